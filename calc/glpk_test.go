package calc

import (
	"bufio"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
)

// An integer program, solved by GLPK's glpsol, must find no stack that PickShims
// should have preferred: by margin inside the limits, then distance from the
// target, then number of shims, then shims already out. 2,000 trays, a process
// each, two at a time.
func TestAgainstIntegerProgram(t *testing.T) {
	glpsol, err := exec.LookPath("glpsol")
	require.NoError(t, err, "this check needs GLPK: install the package glpk-utils")
	const trays, workers = 2000, 2
	var seen struct {
		sync.Mutex
		unreached, lopsided, none, out, prescribed, stock, many int
	}
	var group sync.WaitGroup
	for w := range workers {
		dir := t.TempDir()
		group.Go(func() {
			for seed := w; seed < trays && !t.Failed(); seed += workers {
				q, unit := programQuestion(rand.New(rand.NewPCG(uint64(seed), 1)))
				a, err := PickShims(q)
				if err != nil {
					t.Errorf("tray %d: %v\n%+v", seed, err, q)
					return
				}
				p := programFor(q, unit)
				ours, ok := p.judge(p.uses(a.Best.Stack))
				if !ok && a.Best.Total != 0 {
					t.Errorf("tray %d: %v cannot be had of %+v", seed, a.Best.Stack, q)
					return
				}
				theirs, feasible, err := p.solve(glpsol, dir, ours, a.Best.Total != 0)
				switch {
				case err != nil:
					t.Errorf("tray %d: %v\n%+v", seed, err, q)
				case feasible != (a.Best.Total != 0):
					t.Errorf("tray %d: glpsol found a stack: %v; PickShims: %v\n%+v", seed, feasible, a.Best, q)
				case feasible && ours != theirs:
					// glpsol proves its optimum, so ours cannot be better either.
					t.Errorf("tray %d: off, miss, shims, out are %v, of glpsol's stack %v\n%+v\n%+v", seed, ours, theirs, a.Best, q)
				}
				seen.Lock()
				count := func(n *int, is bool) {
					if is {
						*n++
					}
				}
				count(&seen.none, !feasible)
				count(&seen.unreached, feasible && !a.Reaches)
				count(&seen.lopsided, q.High-q.Target != q.Target-q.Low)
				count(&seen.out, q.Out != nil)
				count(&seen.prescribed, q.Prescribed > 0)
				count(&seen.stock, q.Stock != nil)
				count(&seen.many, len(a.Best.Stack) > 2)
				seen.Unlock()
			}
		})
	}
	group.Wait()
	t.Logf("of %d trays: %d with stock counts, %d lopsided, %d with shims out, %d with a prescribed shim; best has over two shims in %d, does not reach in %d, is none in %d",
		trays, seen.stock, seen.lopsided, seen.out, seen.prescribed, seen.many, seen.unreached, seen.none)
	for _, n := range []int{seen.unreached, seen.lopsided, seen.none, seen.out, seen.prescribed, seen.stock, seen.many} {
		require.Greater(t, n, trays/200, "too few trays of a kind to say anything")
	}
}

// programQuestion makes a tray in millimetres or inches, even or uneven, whose
// lengths are all whole multiples of a unit.
func programQuestion(r *rand.Rand) (q Question, unit Length) {
	unit = []Length{Micrometre, Micrometre, Inch / 10_000}[r.IntN(3)]
	effects := []float64{1, -1, 1, -1, 2, -0.5, -1.5}
	q = Question{Effect: effects[r.IntN(len(effects))], Places: 1 + r.IntN(2), MostPerPlace: 1 + r.IntN(4)}
	step, even := Length(5+r.IntN(50)), r.IntN(2) == 0
	for _, i := range r.Perm(40)[:1+r.IntN(24)] {
		s := 300 + Length(i)*step
		if !even {
			s += Length(r.IntN(int(step)))
		}
		q.Tray = append(q.Tray, s*unit)
	}
	if r.IntN(4) > 0 {
		for range q.Tray {
			q.Stock = append(q.Stock, r.IntN(6)*r.IntN(2))
		}
	}
	if r.IntN(2) == 0 {
		for range 1 + r.IntN(5) {
			q.Out = append(q.Out, q.Tray[r.IntN(len(q.Tray))])
		}
		if r.IntN(3) == 0 {
			odd := (300 + Length(r.IntN(1500))) * unit
			for range q.Places {
				q.Out = append(q.Out, odd)
			}
		}
	}
	if r.IntN(4) == 0 {
		q.Prescribed = (200 + Length(r.IntN(1000))) * unit
	}
	// What is wanted lies near some stack, or beyond all of them.
	wanted := q.Prescribed
	for range 1 + r.IntN(q.MostPerPlace) {
		wanted += q.Tray[r.IntN(len(q.Tray))]
	}
	wanted += Length(r.IntN(60)-30) * unit
	q.Present = q.Prescribed + Length(r.IntN(800))*2*unit
	q.Measured = 9000 * unit
	q.Target = q.Measured + Length(q.Effect*2*float64((wanted-q.Present)/unit/2))*unit
	q.Low, q.High = q.Target-Length(r.IntN(80))*unit, q.Target+Length(r.IntN(80))*unit
	if r.IntN(3) == 0 {
		q.Low = 2*q.Target - q.High
	}
	q.Uncertainty = Length(r.IntN(10)) * unit
	return q, unit
}

// program is a question as whole numbers of a unit, said without PickShims.
type program struct {
	unit                     Length
	sizes, avail, out        []int // avail: stacks that could each hold one
	most, least, places      int
	numerator                int // twice the effect
	base, middle, twiceAimed int // twice the dimension without the stack, the sum of the limits, twice the target
}

func programFor(q Question, unit Length) program {
	n := func(l Length) int { return int(l / unit) }
	p := program{unit: unit, most: q.MostPerPlace, least: 1, places: q.Places, numerator: int(2 * q.Effect)}
	if q.Prescribed > 0 {
		p.least = 0
	}
	p.base = 2*n(q.Measured) + p.numerator*n(q.Prescribed-q.Present)
	p.middle, p.twiceAimed = n(q.Low)+n(q.High), 2*n(q.Target)
	held, out := map[Length]int{}, map[Length]int{}
	sizes := slices.Clone(q.Tray)
	for i, s := range q.Tray {
		held[s] = q.MostPerPlace * q.Places
		if q.Stock != nil {
			held[s] = q.Stock[i]
		}
	}
	for _, s := range q.Out {
		if _, ok := held[s]; !ok {
			held[s] = 0
			sizes = append(sizes, s)
		}
		out[s]++
	}
	for _, s := range sizes {
		p.sizes = append(p.sizes, n(s))
		p.avail = append(p.avail, (held[s]+out[s])/q.Places)
		p.out = append(p.out, out[s])
	}
	return p
}

// uses counts a stack's shims by size.
func (p program) uses(stack []Length) []int {
	use := make([]int, len(p.sizes))
	for _, s := range stack {
		for i, size := range p.sizes {
			if s == Length(size)*p.unit {
				use[i]++
			}
		}
	}
	return use
}

// judge returns what a stack is preferred by: twice the distance from the
// middle of the limits, twice that from the target, the shims, and those of
// them in hand, below zero as more are better; ok tells that it can be had.
func (p program) judge(use []int) (key [4]int, ok bool) {
	sum, count, out := 0, 0, 0
	ok = true
	for i, n := range use {
		ok = ok && n >= 0 && n <= p.avail[i]
		sum += n * p.sizes[i]
		count += n
		out += min(n*p.places, p.out[i])
	}
	d := p.base + p.numerator*sum
	return [4]int{max(d-p.middle, p.middle-d), max(d-p.twiceAimed, p.twiceAimed-d), count, -out}, ok && count >= p.least && count <= p.most
}

// solve has glpsol find the stack with the least key, the key's parts weighted
// so that each outweighs all after it. Where we have a stack, glpsol need look
// for none that is further off.
func (p program) solve(glpsol, dir string, ours [4]int, have bool) (key [4]int, feasible bool, err error) {
	outs := p.most*p.places + 1
	counts := outs * (p.most + 1)
	misses := counts * (2*ours[0] + 1)
	var objective, sum, count, rows, bounds, whole strings.Builder
	fmt.Fprintf(&objective, "%d off + %d miss", misses, counts)
	fmt.Fprintf(&bounds, " off >= 0\n miss >= 0\n")
	if have {
		fmt.Fprintf(&rows, " cut: off <= %d\n", ours[0])
	}
	for i, size := range p.sizes {
		fmt.Fprintf(&objective, " + %d x%d", outs, i)
		fmt.Fprintf(&sum, " %+d x%d", p.numerator*size, i)
		fmt.Fprintf(&count, " + x%d", i)
		fmt.Fprintf(&bounds, " 0 <= x%d <= %d\n", i, min(p.avail[i], p.most))
		fmt.Fprintf(&whole, " x%d\n", i)
	}
	for i, n := range p.out {
		if n > 0 {
			fmt.Fprintf(&objective, " - y%d", i)
			fmt.Fprintf(&rows, " h%d: y%d - %d x%d <= 0\n", i, i, p.places, i)
			fmt.Fprintf(&bounds, " 0 <= y%d <= %d\n", i, n)
		}
	}
	less := strings.NewReplacer("+", "-", "-", "+").Replace(sum.String())
	fmt.Fprintf(&rows, " a: off%s >= %d\n b: off%s >= %d\n", sum.String(), p.middle-p.base, less, p.base-p.middle)
	fmt.Fprintf(&rows, " c: miss%s >= %d\n d: miss%s >= %d\n", sum.String(), p.twiceAimed-p.base, less, p.base-p.twiceAimed)
	fmt.Fprintf(&rows, " m:%s <= %d\n n:%s >= %d\n", count.String(), p.most, count.String(), p.least)
	lp, sol := filepath.Join(dir, "tray.lp"), filepath.Join(dir, "tray.sol")
	text := fmt.Sprintf("Minimize\n key: %s\nSubject To\n%sBounds\n%sGeneral\n%sEnd\n", objective.String(), rows.String(), bounds.String(), whole.String())
	if err := os.WriteFile(lp, []byte(text), 0o600); err != nil {
		return key, false, err
	}
	log, err := exec.Command(glpsol, "--lp", lp, "--write", sol, "--tmlim", "60").CombinedOutput()
	if err != nil {
		return key, false, fmt.Errorf("%w\n%s", err, log)
	}
	file, err := os.Open(sol)
	if err != nil {
		return key, false, err
	}
	defer file.Close()
	use := make([]int, len(p.sizes))
	status := ""
	for lines := bufio.NewScanner(file); lines.Scan(); {
		var at, m, n int
		var value float64
		if _, err := fmt.Sscanf(lines.Text(), "s mip %d %d %s", &m, &n, &status); err == nil {
			continue
		}
		if _, err := fmt.Sscanf(lines.Text(), "j %d %g", &at, &value); err == nil && at >= 3 && at < 3+len(use) {
			use[at-3] = int(value + 0.5) // columns in the order of the objective: off, miss, the sizes
		}
	}
	switch status {
	case "o":
		key, ok := p.judge(use)
		if !ok {
			return key, false, fmt.Errorf("glpsol's stack %v breaks the rules\n%s", use, text)
		}
		return key, true, nil
	case "n", "u":
		if strings.Contains(string(log), "NO PRIMAL FEASIBLE") || strings.Contains(string(log), "NO INTEGER FEASIBLE") || strings.Contains(string(log), "NO FEASIBLE") {
			return key, false, nil
		}
	}
	return key, false, fmt.Errorf("glpsol proved no optimum (status %q):\n%s", status, log)
}
