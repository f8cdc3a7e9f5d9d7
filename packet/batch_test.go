package packet

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
	"unicode"

	"github.com/stretchr/testify/require"
)

// What a batch prints of a job, beside others that share its plan, is what the job's
// folder prints alone.
func TestBatchPrintsWhatTheFolderPrints(t *testing.T) {
	var files [2]File
	for i, name := range []string{"ostrel-d4.yaml", "saltmarsh.yaml"} {
		data, err := readDemoSpecs(name)
		require.NoError(t, err)
		files[i] = File{name, data}
	}
	lines, err := readBatch(File{"table", []byte("received,by,customer,pump,serial,complaint,work,came with it\n" +
		"2026-10-05,R.T.,Brackwater Growers,Ostrel D4,1,Smokes,Overhaul,four pipes\n" +
		"2026-10-05,R.T.,Brackwater Growers and others by a long name,Ostrel D4,2,Leaks,Overhaul,\n" +
		"2026-10-06,R.T.,Saltmarsh,Ostrel D4,3,Hard to start,Seal kit,\"bracket, four pipes, cable\"\n")})
	require.NoError(t, err)
	done := 0
	require.NoError(t, Batch(t.TempDir(), lines, files[0], files[1], nil, func(l *BatchLine) {
		require.NoError(t, l.Err)
		job, err := Open(l.Dir)
		require.NoError(t, err)
		want, err := job.Traveller()
		require.NoError(t, err)
		got, err := os.ReadFile(filepath.Join(l.Dir, PacketFile))
		require.NoError(t, err)
		require.True(t, bytes.Equal(want, got), l.Number)
		done++
	}))
	require.Equal(t, 3, done)
}

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
