package calc

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// 0.0780 in is 1 981 200 nm exactly (1 in = 25.4 mm, NIST SP 811), so ten
// thousand of them are 780 in to the nanometre, added one by one.
func TestInchesDoNotDrift(t *testing.T) {
	q, _, err := ParseQuantity("0.0780 in")
	require.NoError(t, err)
	one := LengthOf(q.Value, q.Unit)
	require.Equal(t, Length(1_981_200), one)
	var sum Length
	for range 10_000 {
		sum += one
	}
	require.Equal(t, 780*Inch, sum)
	require.Equal(t, "780.0000", sum.Fixed(IN, 4))
}
