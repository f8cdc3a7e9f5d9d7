package specs

import (
	"embed"
	"io/fs"
)

//go:embed demo/*.yaml
var demo embed.FS

// Demo holds the demonstration files, every figure in them invented: the
// specs ostrel-d4.yaml (mm) and vessant-s6.yaml (inches), and the shops
// saltmarsh.yaml (A4) and prairie.yaml (Letter).
func Demo() fs.FS {
	sub, err := fs.Sub(demo, "demo")
	if err != nil {
		panic(err) // the path is a constant
	}
	return sub
}
