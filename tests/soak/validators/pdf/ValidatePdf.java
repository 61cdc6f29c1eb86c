import org.verapdf.gf.foundry.VeraGreenfieldFoundryProvider;
import org.verapdf.pdfa.Foundries;
import org.verapdf.pdfa.PDFAParser;
import org.verapdf.pdfa.PDFAValidator;
import org.verapdf.pdfa.flavours.PDFAFlavour;
import org.verapdf.pdfa.results.TestAssertion;
import org.verapdf.pdfa.results.ValidationResult;

import java.io.FileInputStream;
import java.io.InputStream;

/** Validates files as PDF/A-2b: a line per rule that does not hold, exit code 1 if there is one. */
public class ValidatePdf {
    public static void main(String[] files) throws Exception {
        VeraGreenfieldFoundryProvider.initialise();
        boolean whole = true;
        for (String file : files) {
            try (InputStream data = new FileInputStream(file);
                 PDFAParser parser = Foundries.defaultInstance().createParser(data, PDFAFlavour.PDFA_2_B)) {
                PDFAValidator validator = Foundries.defaultInstance().createValidator(PDFAFlavour.PDFA_2_B, false);
                ValidationResult result = validator.validate(parser);
                for (TestAssertion one : result.getTestAssertions()) {
                    System.out.println(one.getRuleId() + ": " + one.getMessage());
                }
                System.out.println((result.isCompliant() ? "holds" : "does not hold") + ": " + file
                    + " (" + parser.getFlavour() + ", " + result.getTotalAssertions() + " assertions)");
                whole = whole && result.isCompliant();
            }
        }
        System.exit(whole ? 0 : 1);
    }
}
