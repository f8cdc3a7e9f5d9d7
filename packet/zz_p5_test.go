package packet

import (
	"fmt"
	"os"
	"strings"
	"testing"
	"time"
	"github.com/stretchr/testify/require"
)

func TestDumpP5(t *testing.T) {
	for _, name := range []string{"saltmarsh", "prairie"} {
		for _, paper := range []string{"A4", "Letter"} {
			for _, lang := range []string{"en", "de"} {
				get := func(n string, sub bool) []byte {
					var d []byte
					var err error
					if sub { d, err = readDemoSpecs(n) } else { d, err = demo.ReadFile("demo/" + n) }
					require.NoError(t, err)
					return d
				}
				spec := map[string]string{"saltmarsh": "ostrel-d4.yaml", "prairie": "vessant-s6.yaml"}[name]
				shop := string(get(name+".yaml", true))
				var out []string
				for _, l := range strings.Split(shop, "\n") {
					if strings.HasPrefix(l, "paper:") || strings.HasPrefix(l, "language:") || strings.HasPrefix(l, "decimal mark:") { continue }
					out = append(out, l)
				}
				out = append(out, "paper: "+paper, "language: "+lang, "decimal mark: "+map[string]string{"en":"point","de":"comma"}[lang])
				number, _ := jobNumber(2026, 412)
				t0 := time.Now()
				j, err := NewJob(number, File{"i", get(name+"-intake.yaml", false)}, File{"s", get(spec, true)}, File{"shop", []byte(strings.Join(out, "\n"))})
				require.NoError(t, err)
				typed, err := demoReadings(name, j.Plan)
				require.NoError(t, err)
				p, err := j.Traveller()
				require.NoError(t, err)
				t1 := time.Now()
				r, err := j.ReportPDF(j.Judge(read(t, j, typed)))
				require.NoError(t, err)
				fmt.Println(t1.Sub(t0), time.Since(t1))
				base := fmt.Sprintf("/tmp/p5/%s-%s-%s", name, paper, lang)
				os.WriteFile(base+"-packet.pdf", p, 0o644)
				os.WriteFile(base+"-report.pdf", r, 0o644)
			}
		}
	}
}
