import ca.uhn.fhir.context.FhirContext;
import ca.uhn.fhir.context.support.DefaultProfileValidationSupport;
import ca.uhn.fhir.context.support.IValidationSupport;
import ca.uhn.fhir.validation.FhirValidator;
import ca.uhn.fhir.validation.ResultSeverityEnum;
import ca.uhn.fhir.validation.SingleValidationMessage;
import org.hl7.fhir.common.hapi.validation.support.CommonCodeSystemsTerminologyService;
import org.hl7.fhir.common.hapi.validation.support.InMemoryTerminologyServerValidationSupport;
import org.hl7.fhir.common.hapi.validation.support.ValidationSupportChain;
import org.hl7.fhir.common.hapi.validation.validator.FhirInstanceValidator;
import org.hl7.fhir.instance.model.api.IBaseResource;
import org.hl7.fhir.r4.model.Bundle;
import org.hl7.fhir.r4.model.Questionnaire;

import java.nio.file.Files;
import java.nio.file.Path;
import java.util.HashMap;
import java.util.Map;

/** Validates FHIR R4 bundles offline, responses against the questionnaires beside them: a line per
 * message, then "holds" or "does not hold" with the file. */
public class ValidateFhir {
    private static final FhirContext CONTEXT = FhirContext.forR4();

    /** The questionnaires of the bundle that is looked at. */
    private static final class Own implements IValidationSupport {
        final Map<String, IBaseResource> byUrl = new HashMap<>();

        @Override
        public FhirContext getFhirContext() {
            return CONTEXT;
        }

        @Override
        public <T extends IBaseResource> T fetchResource(Class<T> kind, String url) {
            IBaseResource found = byUrl.get(url);
            return found != null && (kind == null || kind.isInstance(found)) ? (T) found : null;
        }
    }

    public static void main(String[] files) throws Exception {
        Own own = new Own();
        FhirValidator validator = CONTEXT.newValidator();
        validator.registerValidatorModule(new FhirInstanceValidator(new ValidationSupportChain(
            new DefaultProfileValidationSupport(CONTEXT),
            own,
            new CommonCodeSystemsTerminologyService(CONTEXT),
            new InMemoryTerminologyServerValidationSupport(CONTEXT))));
        for (String file : files) {
            String text = Files.readString(Path.of(file));
            try {
                Bundle bundle = CONTEXT.newJsonParser().parseResource(Bundle.class, text);
                bundle.getEntry().forEach(one -> {
                    if (one.getResource() instanceof Questionnaire asked) {
                        own.byUrl.put(asked.getUrl(), asked);
                    }
                });
            } catch (RuntimeException unreadable) {
                System.out.println("note: its questionnaires cannot be read: " + unreadable.getMessage());
            }
            int errors = 0;
            for (SingleValidationMessage one : validator.validateWithResult(text).getMessages()) {
                System.out.println(one.getSeverity() + " " + one.getLocationString() + ": " + one.getMessage());
                if (one.getSeverity().ordinal() >= ResultSeverityEnum.ERROR.ordinal()) {
                    errors++;
                }
            }
            System.out.println((errors == 0 ? "holds: " : "does not hold: ") + file);
        }
    }
}
