package packet

import (
	"bytes"
	"os"
	"testing"
	"unicode"

	"github.com/stretchr/testify/require"
)

// What a line is taken for is an intake that reads back, with nothing in it that
// would not be printed.
func FuzzReadBatch(f *testing.F) {
	f.Add([]byte("received,by,customer,reference,pump,serial,complaint,work\n2026-10-05,R.T.,Brackwater Growers,machine 7,Ostrel D4,7719-204,\"Smokes, hard to start\",Overhaul\n"))
	f.Add([]byte("\uFEFFby;received;customer;pump;serial;outlets;complaint;work;came with it;id\r\nR.T.;2026-10-05;'=1;Ostrel D4;1;4;: #;\"a\nb\";four pipes, bracket;7\r\n"))
	f.Add([]byte("received\tby\n\"\t\n1\t\"a\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		lines, err := readBatch(File{"f", data})
		if err != nil {
			return
		}
		for _, l := range lines {
			if l.Err == nil {
				_, err := ReadIntake(l.intake.Name, l.intake.Data)
				require.NoError(t, err)
				require.True(t, bytes.HasPrefix(l.intake.Data, []byte(batchMark+l.id+"\n")))
			}
		}
	})
}

func FuzzReadIntake(f *testing.F) {
	for _, name := range []string{"saltmarsh", "prairie"} {
		data, err := os.ReadFile("demo/" + name + "-intake.yaml")
		require.NoError(f, err)
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		in, err := ReadIntake("f", data)
		if err != nil {
			return
		}
		for _, s := range append([]string{in.By, in.Customer.Name, in.Customer.Reference, in.Customer.Contact, in.Pump.Name, in.Pump.Serial, in.Engine, in.Complaint, in.Authorised.Work}, in.Accessories...) {
			for _, r := range s {
				require.False(t, unicode.IsControl(r), "%q", s)
			}
		}
	})
}
