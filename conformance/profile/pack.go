package profile

import (
	"archive/tar"
	"compress/gzip"
	"io"
	"time"

	"weir.example/weir/mapping/element"
)

// Pack writes all resources as one FHIR package: a gzipped tar with the
// folder package, its package.json and .index.json
// (https://hl7.org/fhir/R4/packages.html and the FHIR NPM package
// specification). The bytes are the same each time: no clock, no owner.
func Pack(w io.Writer, version string) error {
	zip, err := gzip.NewWriterLevel(w, gzip.BestCompression)
	if err != nil {
		return err
	}
	out := tar.NewWriter(zip)
	put := func(name string, data []byte) error {
		if err := out.WriteHeader(&tar.Header{Typeflag: tar.TypeReg, Name: "package/" + name, Mode: 0o644, Size: int64(len(data)), ModTime: time.Unix(0, 0), Format: tar.FormatUSTAR}); err != nil {
			return err
		}
		_, err := out.Write(data)
		return err
	}
	list := Resources(version)
	files := []file{{"package.json", manifest(version)}, {".index.json", index(list)}}
	for _, r := range list {
		files = append(files, file{r.Name(), r.JSON()})
	}
	for _, f := range files {
		if err := put(f.name, f.data); err != nil {
			return err
		}
	}
	if err := out.Close(); err != nil {
		return err
	}
	return zip.Close()
}

type file struct {
	name string
	data []byte
}

// PackageName is the name of the FHIR package.
const PackageName = "example.weir.r4"

func manifest(version string) []byte {
	return element.Encode(element.Obj(
		element.F("name", element.Str(PackageName)),
		element.F("version", element.Str(version)),
		element.F("description", element.Str("Profiles, extensions, terminology and exchange of a home-infusion integration adapter")),
		element.F("type", element.Str("Conformance")),
		element.F("canonical", element.Str("https://weir.example/fhir")),
		element.F("fhirVersions", element.Strs(fhirVersion)),
		element.F("dependencies", element.Obj(element.F("hl7.fhir.r4.core", element.Str(fhirVersion)))),
		element.F("date", element.Str(Edition)),
		element.F("author", element.Str("Weir"))))
}

func index(list []Resource) []byte {
	var files []element.Value
	for _, r := range list {
		files = append(files, element.Obj(element.F("filename", element.Str(r.Name())), element.F("resourceType", element.Str(r.Kind)), element.F("id", element.Str(r.ID)), element.F("url", element.Str(r.URL()))))
	}
	return element.Encode(element.Obj(element.F("index-version", element.Int(1)), element.F("files", element.List(files...))))
}
