import ca.uhn.fhir.context.FhirContext;
import ca.uhn.fhir.context.support.DefaultProfileValidationSupport;
import ca.uhn.fhir.validation.FhirValidator;
import ca.uhn.fhir.validation.ResultSeverityEnum;
import ca.uhn.fhir.validation.SingleValidationMessage;
import ca.uhn.fhir.validation.ValidationOptions;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.HashSet;
import java.util.List;
import java.util.Map;
import java.util.Set;
import java.util.TreeMap;
import java.util.stream.Stream;
import org.hl7.fhir.common.hapi.validation.support.CommonCodeSystemsTerminologyService;
import org.hl7.fhir.common.hapi.validation.support.InMemoryTerminologyServerValidationSupport;
import org.hl7.fhir.common.hapi.validation.support.PrePopulatedValidationSupport;
import org.hl7.fhir.common.hapi.validation.support.SnapshotGeneratingValidationSupport;
import org.hl7.fhir.common.hapi.validation.support.ValidationSupportChain;
import org.hl7.fhir.common.hapi.validation.validator.FhirInstanceValidator;
import org.hl7.fhir.r4.model.Bundle;
import org.hl7.fhir.r4.model.MetadataResource;
import org.hl7.fhir.r4.model.Resource;
import org.hl7.fhir.r4.model.StructureDefinition;
import org.hl7.fhir.r5.utils.validation.constants.BestPracticeWarningLevel;

/**
 * Judges R4 resources offline, by R4's own definitions and by ours. Arguments: DEFINITIONS, a folder with conformance resources of
 * ours and of others; RESOURCES, a folder of .json files; and optionally the word "seeded". A Bundle is judged as a whole, and each
 * entry once more against our profile of its type. What two answers have in common is judged once.
 *
 * Prints file, severity, place and message; the last line counts, and an error ends with 1. With "seeded" each file holds one fault:
 * prints file and caught or missed.
 */
public class Judge {
  /** What it cannot know offline, and what is not about R4. Each is said in README.md. */
  private static final List<String> BLIND = List.of(
      "Error generating Snapshot: Unable to resolve package id hl7.fhir.r4.core#null", // it asks for a package; only of Extension definitions
      "URN reference is not locally contained within the bundle", // we point at the input by its own address
      "CodeSystem is unknown and can't be validated: http://www.nlm.nih.gov/research/umls/rxnorm",
      "because CodeSystem 'http://snomed.info/sct' is ignored/not-present");

  private final FhirContext fhir = FhirContext.forR4();
  private final FhirValidator validator = fhir.newValidator();
  private final Map<String, String> profiles = new TreeMap<>();
  private final Set<String> seen = new HashSet<>();

  public static void main(String[] args) throws IOException {
    Judge judge = new Judge(Path.of(args[0]));
    boolean seeded = args.length > 2;
    int errors = 0, warnings = 0, blind = 0, resources = 0, files = 0;
    for (Path p : files(Path.of(args[1]))) {
      files++;
      List<SingleValidationMessage> found = new ArrayList<>();
      resources += judge.judge(Files.readString(p), found);
      boolean caught = false;
      for (SingleValidationMessage m : found) {
        if (BLIND.stream().anyMatch(m.getMessage()::contains)) {
          blind++;
          continue;
        }
        boolean error = m.getSeverity() == ResultSeverityEnum.ERROR || m.getSeverity() == ResultSeverityEnum.FATAL;
        caught |= error;
        if (!error && m.getSeverity() != ResultSeverityEnum.WARNING) continue;
        if (error) errors++; else warnings++;
        if (!seeded) System.out.printf("%s\t%s\t%s\t%s%n", p.getFileName(), m.getSeverity(), m.getLocationString(), m.getMessage());
      }
      if (seeded) System.out.printf("%s\t%s%n", p.getFileName(), caught ? "caught" : "missed");
    }
    if (seeded) return;
    System.out.printf("%d files, %d distinct resources judged, %d errors, %d warnings, %d remarks about what it cannot know%n", files, resources, errors, warnings, blind);
    System.exit(errors + warnings > 0 ? 1 : 0);
  }

  private Judge(Path definitions) throws IOException {
    PrePopulatedValidationSupport own = new PrePopulatedValidationSupport(fhir);
    for (Path p : files(definitions)) {
      Resource r = (Resource) fhir.newJsonParser().parseResource(Files.readString(p));
      if (r instanceof MetadataResource) own.addResource(r);
      if (r instanceof StructureDefinition s && s.getUrl().startsWith("https://weir.example/") && !"Extension".equals(s.getType()) && !"MedicationRequest".equals(s.getType())) {
        profiles.put(s.getType(), s.getUrl());
      }
    }
    FhirInstanceValidator instance = new FhirInstanceValidator(new ValidationSupportChain(
        own, new DefaultProfileValidationSupport(fhir), new CommonCodeSystemsTerminologyService(fhir),
        new InMemoryTerminologyServerValidationSupport(fhir), new SnapshotGeneratingValidationSupport(fhir)));
    instance.setBestPracticeWarningLevel(BestPracticeWarningLevel.Ignore);
    instance.setErrorForUnknownProfiles(true);
    instance.setAnyExtensionsAllowed(false);
    validator.registerValidatorModule(instance);
  }

  private int judge(String text, List<SingleValidationMessage> found) {
    Resource whole = null;
    try {
      whole = (Resource) fhir.newJsonParser().parseResource(text);
    } catch (RuntimeException e) {
      // said by the validator, which reads the text itself
    }
    int n = 0;
    if (seen.add(bare(text))) {
      found.addAll(validator.validateWithResult(text).getMessages());
      n++;
    }
    List<Resource> parts = new ArrayList<>();
    if (whole instanceof Bundle bundle) bundle.getEntry().forEach(e -> parts.add(e.getResource()));
    else if (whole != null) parts.add(whole);
    for (Resource r : parts) {
      if (r == null || !profiles.containsKey(r.fhirType())) continue;
      String one = fhir.newJsonParser().encodeResourceToString(r);
      if (!seen.add("profile " + bare(one))) continue;
      found.addAll(validator.validateWithResult(one, new ValidationOptions().addProfile(profiles.get(r.fhirType()))).getMessages());
      n++;
    }
    return n;
  }

  /** The text without what differs from one order to the next and is not judged: identifiers, and the digits of times. */
  private static String bare(String text) {
    return text.replaceAll("[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}", "ID");
  }

  private static List<Path> files(Path folder) throws IOException {
    try (Stream<Path> all = Files.walk(folder)) {
      return all.filter(p -> p.toString().endsWith(".json")).sorted().toList();
    }
  }
}
