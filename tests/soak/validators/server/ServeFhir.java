import ca.uhn.fhir.context.FhirContext;
import ca.uhn.fhir.parser.StrictErrorHandler;
import ca.uhn.fhir.rest.server.RestfulServer;
import ca.uhn.fhir.rest.server.provider.HashMapResourceProvider;
import org.eclipse.jetty.ee10.servlet.ServletContextHandler;
import org.eclipse.jetty.ee10.servlet.ServletHolder;
import org.eclipse.jetty.server.Server;
import org.eclipse.jetty.server.ServerConnector;
import org.hl7.fhir.instance.model.api.IBaseResource;
import org.hl7.fhir.r4.model.AuditEvent;
import org.hl7.fhir.r4.model.Bundle;
import org.hl7.fhir.r4.model.Device;
import org.hl7.fhir.r4.model.Procedure;
import org.hl7.fhir.r4.model.Provenance;
import org.hl7.fhir.r4.model.Questionnaire;
import org.hl7.fhir.r4.model.QuestionnaireResponse;

import java.net.InetSocketAddress;
import java.util.List;

/** A FHIR R4 server in memory, on this computer alone: prints its port, and serves until its input
 * ends. What is no R4 is refused. */
public class ServeFhir {
    public static void main(String[] none) throws Exception {
        FhirContext context = FhirContext.forR4();
        context.setParserErrorHandler(new StrictErrorHandler());
        RestfulServer fhir = new RestfulServer(context);
        List<Class<? extends IBaseResource>> kinds = List.of(AuditEvent.class, Bundle.class,
            Device.class, Procedure.class, Provenance.class, Questionnaire.class,
            QuestionnaireResponse.class);
        for (Class<? extends IBaseResource> kind : kinds) {
            fhir.registerProvider(new HashMapResourceProvider<>(context, kind));
        }
        Server server = new Server(new InetSocketAddress("127.0.0.1", 0));
        ServletContextHandler handler = new ServletContextHandler("/");
        handler.addServlet(new ServletHolder(fhir), "/fhir/*");
        server.setHandler(handler);
        server.start();
        System.out.println("port " + ((ServerConnector) server.getConnectors()[0]).getLocalPort());
        System.out.flush();
        while (System.in.read() >= 0) {
            continue;
        }
        server.stop();
    }
}
