package job

import (
	"reflect"

	"barwise/form"
)

// SchemaID is the job file's own name for its schema. It is a name, not an address.
const SchemaID = "urn:barwise:job"

// Schema returns the JSON Schema (draft 2020-12) of the job file, for an editor's completion and for
// checking a job without Barwise. It is looser than Load where a fault needs arithmetic.
func Schema() []byte {
	b, err := form.Describe[File](SchemaID, "Barwise job")
	if err != nil {
		panic("job: " + err.Error()) // a struct of ours that cannot be written; a test makes it
	}
	return b
}

// Describe describes the word none, or the keys.
func (s *SpigotForm) Describe(d *form.Describer) *form.Schema {
	return &form.Schema{AnyOf: []*form.Schema{{Const: "none"}, d.Of(reflect.TypeFor[SpigotFields]())}}
}
