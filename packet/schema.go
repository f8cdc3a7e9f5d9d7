package packet

import _ "embed"

// ResultsSchema is the JSON Schema (draft 2020-12) of the results as Results.JSON
// writes them: every property with what it means and its unit.
//
//go:embed results.schema.json
var ResultsSchema []byte
