"""Recomputes a report from what was typed, and compares every figure printed.

    python3 recompute.py JOB-FOLDER

Reads intake.yaml, spec.yaml, shop.yaml and readings.yaml of the folder as
data, works every figure out anew from the published formulas (README.md beside
this file names them), and reads report.pdf with pdftotext. Each figure printed
must be one that was worked out here, equal to its last digit, or one that was
typed, equal to its source, and must stand in its place in its table. Shares no
code with the project and needs Python's own library and PyYAML only.
Exit status 0 when all agree, 1 when something does not.
"""
import hashlib
import itertools
import math
import re
import subprocess
import sys
from fractions import Fraction as F
from pathlib import Path

from figures import (INF, UNITS, Account, Expected, Job, Quantity, allowed, bends, celsius, combine, compare, conformity,
                     decide, decimal, fixed, limits, line, outlier, rectangular, resolution, rounded, signed, student, summed,
                     thermal, three, times, up, words)

MONTHS = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split()

def day(iso):
    y, m, d = iso.split("-")
    return f"{int(d)} {MONTHS[int(m) - 1]} {y}"

def plain(text):
    """A typed figure without the zeros that say nothing: 0.010 as 0.01."""
    return f"{text.rstrip('0').rstrip('.')}" if "." in text else text

class Item:
    """A line of the table of every item."""
    def __init__(self, name, code, unit, places, low, high, found, left, sources=None, kind="recomputed", safety=False):
        self.name, self.code, self.unit, self.places = name, code, unit, places
        self.low, self.high, self.found, self.left, self.kind, self.safety = low, high, found, left, kind, safety
        self.condition, self.nothing, self.wanted = False, False, None
        self.uc = self.U = self.P = None
        self.verdict = "meets"
        if left is None:
            self.verdict = "not measured"
        elif sources:
            self.uc, self.U = combine(sources)
            # with the uncertainty the verdict rests on: few degrees of freedom widen both
            self.P = conformity(left, self.U / student(0.95, INF), low, high)
            self.verdict = decide(left, self.U, low, high)

    def window(self):
        if self.nothing:
            return "no delivery"
        if self.low is None:
            return "at most " + fixed(self.high, self.places)
        return f"{fixed(self.low, self.places)} – {fixed(self.high, self.places)}"

    def figure(self, x):
        return "–" if x is None else fixed(x, self.places)

    def foundOut(self):
        """How far outside, negative below; None when inside or not found."""
        if self.found is None or self.unit == "":
            return None
        if self.low is not None and self.found < self.low:
            return self.found - self.low
        if self.high is not None and self.found > self.high:
            return self.found - self.high
        return None

# -------------------------------------------------------- static dimensions

# The title, the stage and the sign of 1 mm of shim, shared/trade.md's table.
PRACTICE = {
    "timing shim pack": ("Timing shim pack", "F", 1),
    "cold-start travel": ("Cold-start device travel", "F", None),
    "plunger spring preset": ("Plunger spring preset", "G", 1),
    "plunger depth at lowest point": ("Plunger depth at its lowest point", "H", -1),
    "pre-stroke": ("Pre-stroke", "H", -1),
    "governor shaft projection": ("Governor shaft projection", "K", None),
    "flyweight end float": ("Flyweight end float", "K", -1),
    "starting gap": ("Starting gap", "K", -1),
}
TURN = F(1, 16)  # how far a turn of a screw is misread, ±; common practice, no source

class Setting:
    def __init__(self, job, name, d):
        self.title, self.stage, effect = PRACTICE[name]
        self.job, self.d = job, d
        target = Quantity(d["target"])
        self.unit, self.places, self.target = target.unit, target.places, target.value
        self.low, self.high, p = limits(d)
        self.places = max(self.places, p)
        self.effect = F(d.get("effect", effect or 1))
        self.instrument = d["instrument"]
        self.thread = d.get("thread")
        self.shims = d.get("shims") or {}
        self.change, self.answer, self.again = "none", "–", "–"
        self.expected = self.allowed = None
        {"timing shim pack": self.pack}.get(name, self.one)(name)
        self.item = Item(self.title, self.code, self.unit, self.places, self.low, self.high, self.found, self.left, self.sources)

    def n(self, code):
        return self.job.form.number(code)

    def boxes(self, first, *after):
        """The boxes of this dimension on its sheet, from one label on: some
        sheets hold more than one dimension."""
        form = self.job.form.stage[self.stage]
        start = next(i for i, (_, l) in enumerate(form) if l.startswith(first))
        end = len(form)
        for i in range(start + 1, len(form)):
            if any(form[i][1].startswith(a) for a in after):
                end = i
                break
        return form[start:end]

    def fmt(self, x):
        return fixed(x, self.places)

    def stack(self, stage, labels):
        """A stack that was taken out: its sum, and of how many figures."""
        form = self.job.form
        got = [x for l in labels for c in form.codes(stage, l) if (x := self.n(c)) is not None]
        return sum(got), len(got)

    def pack(self, _):
        form, job = self.job.form, self.job
        piston, n1 = self.stack("C", ["shim at the piston"])
        cap, n2 = self.stack("C", [f"cap shim {k}" for k in range(1, 9)])
        self.found = piston + cap
        shim = job.pair("micrometer", self.unit, self.places)
        fitted = [(self.n(a), self.n(b), c) for a, b, c in zip(form.codes("F", "fitted at the piston"), form.codes("F", "fitted in the cap"), form.codes("F", "pack now"))]
        fitted = [f for f in fitted if f[0] is not None]
        self.code, self.left, self.sources = form.exact("F", "pack taken out"), self.found, summed(shim, n1 + n2)
        wanted = self.target  # a sum: the total wanted is the sheet's
        if fitted:
            p, c, self.code = fitted[-1]
            self.left, self.sources = p + c, summed(shim, 2)
            self.change = f"{self.fmt(piston)} + {self.fmt(cap)} → {self.fmt(p)} + {self.fmt(c)}"
            self.again = f"{self.fmt(self.left)}, the sum of its parts as measured"
            prescribed = Quantity(self.shims["prescribed"]).to(self.unit)
            best = self.pick(self.found, self.found, prescribed)
            self.answer = f"{self.fmt(wanted)} wanted; at the piston {self.fmt(prescribed)}, in the cap {self.stacked(best)}"

    def stacked(self, best):
        return " + ".join(self.fmt(s) for s in best)

    def pick(self, measured, present, prescribed=F(0)):
        """The stack of the tray by trying every one: widest margin inside the
        limits, nearest to the target, fewest, the least scarce, thickest first."""
        tray = {k: v for k, v in self.job.spec["trays"][self.shims["tray"]].items()}
        low, high, step = (Quantity(tray[k]).to(self.unit) for k in ("from", "to", "step"))
        sizes = [low + i * step for i in range(int((high - low) / step) + 1)]
        stock = (self.job.shop.get("stock") or {}).get(self.shims["tray"])
        places = int(self.shims.get("places", 1))
        have = {s: INF for s in sizes}
        if stock:
            have = {s: 0 for s in sizes}
            have.update({Quantity(k).to(self.unit): int(v) for k, v in stock.items()})
        best = None
        for n in range(1, int(self.shims.get("most per place", 1)) + 1):
            for s in itertools.combinations_with_replacement(sorted(sizes, reverse=True), n):
                if any(have[x] < s.count(x) * places for x in set(s)):
                    continue
                then = measured + self.effect * (sum(s) + prescribed - present)
                key = (min(then - self.low, self.high - then), -abs(then - self.target), -n,
                       min(have[x] for x in s), s)
                if best is None or key > best[0]:
                    best = key, s
        return best[1]

    def one(self, name):
        form, job = self.job.form, self.job
        start, stop = {
            "cold-start travel": ("travel", ("drive shaft",)),
            "plunger spring preset": ("left, made alike", ("done by",)),
            "governor shaft projection": ("housing face", ("blade that goes",)),
            "flyweight end float": ("blade that goes", ("spacer block", "blade that goes")),
            "starting gap": ("blade that goes", ("done by",)),
        }.get(name, ("first", ("done by",)))
        boxes = self.boxes(start, *stop)
        if name == "starting gap":  # the second on its sheet
            form_k = form.stage["K"]
            at = [i for i, (_, l) in enumerate(form_k) if l.startswith("blade that goes")][1]
            boxes = form_k[at:]
        of = lambda *starts: [c for c, l in boxes if l.startswith(starts)]
        reading = job.pair(self.instrument, self.unit, self.places)
        bracket = self.d.get("take") == "bracket"
        take = self.d.get("take")

        def middle(goes, not_):
            a, b = self.n(goes), self.n(not_)
            if a is None:
                return None, None
            # the middle is written to the sheet's figures; the step from blade
            # to blade takes the place of a resolution
            return rounded((a + b) / 2, self.places), [reading[0], resolution(b - a), resolution(F(1, 10**self.places))]

        if bracket:
            self.found, self.sources = middle(of("blade that goes")[0], of("blade that does not")[0])
            self.code = of("middle of the two")[0]
        else:
            repeats = [x for c in of("first", "second", "third") if (x := self.n(c)) is not None]
            if take in ("largest", "mean"):
                self.found = max(repeats) if take == "largest" else rounded(sum(repeats) / len(repeats), self.places)
                self.code = of("depth", "lift")[0]
            else:
                self.code = of("travel", "face to plunger", "housing face")[0]
                self.found = self.n(self.code)
            self.sources = list(reading)
            if take == "mean" and len(repeats) > 1:
                m = sum(repeats) / len(repeats)
                s = math.sqrt(sum((x - m) ** 2 for x in repeats) / (len(repeats) - 1))
                self.sources.append((s / math.sqrt(len(repeats)), len(repeats) - 1))  # JCGM 100, 4.2.3
        self.left, before = self.found, self.sources

        if self.thread:
            tries = list(zip(of("turned by"), of("reads now")))
        elif bracket:
            tries = list(zip(of("shim fitted", "end plug fitted"), zip(of("goes"), of("does not go")), [c for c, l in boxes if re.match(r"middle(,|$)", l)]))
        else:
            tries = list(zip(of("shim fitted", "spacer fitted", "fitted left"), of("reads now")))
        tries = [t for t in tries if self.n(t[0]) is not None]
        if not tries:
            return
        *_, last = tries
        assert len(tries) == 1, "one change of each dimension is all this script follows"
        fitted = self.n(last[0])
        if bracket:
            (goes, not_), self.code = last[1], last[2]
            self.left, self.sources = middle(goes, not_)
        else:
            self.code = last[1]
            self.left, self.sources = self.n(self.code), list(reading)
        if self.thread:
            pitch = Quantity(self.thread["pitch"]).to(self.unit)
            out = 1 if self.thread["out"] == "grows" else -1
            turns = (self.target - self.found) / (pitch * out)
            clockwise = (turns < 0) == (self.thread["hand"] == "right")  # a right-handed shaft goes in clockwise
            self.change = f"{signed(fitted, 2)} turn"
            self.answer = f"{fixed(abs(turns), 2)} turn {'clockwise' if clockwise else 'anticlockwise'}"
            self.expected = rounded(self.found + fitted * pitch * out, self.places)
            moved = [rectangular(TURN * pitch)]
        else:
            place, label = {"G": ("C", ["left shim 1", "left shim 2"]), "H": ("C", None), "K": ("C", None)}[self.stage]
            if label:
                present, n = self.stack(place, label)
                each = " each side"
            else:
                # what came out of here: the first shim, spacer or plug of sheet C not yet told
                part = self.job.spec["trays"][self.shims["tray"]].get("part", "shim")
                codes = [c for c, l in form.stage["C"] if re.match(part + r"(,|$)", l)]
                if name == "flyweight end float":
                    codes = codes[-1:]
                present, n, each = self.n(codes[0]), 1, ""
            wanted = present + (self.target - self.found) / self.effect
            self.change = f"{self.fmt(present)} → {self.fmt(fitted)}{each}"
            self.answer = f"{self.fmt(wanted)} wanted; from the tray {self.stacked(self.pick(self.found, present))}"
            self.expected = rounded(self.found + self.effect * (fitted - present), self.places)
            shim = job.pair("micrometer", self.unit, self.places)
            moved = times(summed(shim, n) + shim, self.effect)
        self.allowed = combine(before + self.sources + moved)[1]
        self.again = (f"{self.fmt(self.expected)} worked out, {self.fmt(self.left)} measured: agree within "
                      f"±{up(self.allowed, self.places + 1)}")
        self.agrees = abs(self.left - self.expected) <= self.allowed

# -------------------------------------------------------------- bench points

class Point:
    """A delivery point of a run."""
    def __init__(self, run, p, above):
        job, form, s = run.job, run.job.form, run.stage
        self.job, self.p, self.name = job, p, p["name"]
        n = form.number
        box = lambda label: form.exact(s, f"{self.name}, {label}")
        self.mean_box, self.spread_box = box("mean"), box("spread")
        self.readings = []
        for k in job.marks:
            r = [n(c) for c in (box(f"outlet {k}"), box(f"outlet {k}, again")) if c]
            self.readings.append([x for x in r if x is not None])
        self.run = all(self.readings) and self.mean_box
        self.speed, self.strokes = Quantity(p["speed"]).value, n(box("strokes counted")) or decimal(p["strokes"])
        self.shut = p["kind"] == "shut-off"
        # an oil temperature holds until the next is written
        self.oil_box = box("oil")
        typed = n(self.oil_box)
        self.oil = typed if typed is not None else (above.oil if above and not self.shut else None)
        self.oil_unit = Quantity(job.conditions["reference"]).unit
        self.boost = n(box("boost")) if box("boost") else None
        if self.shut:
            self.oil = None
        if not self.run:
            return
        self.factor = job.factor(celsius(self.oil, self.oil_unit)) if self.oil is not None else 1.0
        # The uncertainties leave the factor out: it is 1 within their figures.
        self.scale = 1000 / float(self.strokes)
        self.q = [float(sum(r)) / len(r) * self.scale * self.factor for r in self.readings]
        self.average = sum(self.q) / len(self.q)
        self.mean = rounded(self.average, 1)
        farthest = job.bench.get("spread means") == "farthest from the mean"
        self.farthest = farthest
        if farthest:
            self.absolute = max(abs(q - self.average) for q in self.q)
        else:
            self.absolute = max(self.q) - min(self.q)
        self.percent = self.absolute / self.average * 100 if self.average else 0.0
        self.off = [(q / self.average - 1) * 100 if self.average else None for q in self.q]
        self.limit = Quantity(p["spread"]) if "spread" in p else None
        self.by_percent = self.limit is not None and self.limit.unit == "%"
        self.spread = rounded(self.percent if self.by_percent else self.absolute, 1)
        self.apart = None
        if self.limit and self.spread > self.limit.value and (i := outlier(self.q)) is not None:
            others = (sum(self.q) - self.q[i]) / (len(self.q) - 1)
            if abs(self.q[i] - others) > combine(self.outlet() * 2)[1]:
                self.apart, self.others = i, others
                self.apart_by = (self.q[i] / others - 1) * 100

    def outlet(self):
        """Of one outlet's delivery: the graduates, and what pairs scatter
        (pooled, IUPAC Compendium)."""
        s = self.job.pair("graduates", "cm³", 1)
        pairs = [r for r in self.readings if len(r) == 2]
        self.fewest = min(len(r) for r in self.readings)
        if pairs:
            pooled = math.sqrt(sum((a - b) ** 2 for a, b in pairs) / (2 * len(pairs)))
            s.append((pooled / math.sqrt(self.fewest), len(pairs)))
        return times(s, self.scale)

    def mean_sources(self):
        """The graduates' error counts as common to all outlets, scatter not;
        the oil's temperature is common too."""
        s = self.outlet()
        less = math.sqrt(sum(F(1, len(r)) for r in self.readings) * self.fewest) / len(self.readings)
        s[2:] = times(s[2:], less)
        if self.mean:
            at = float(celsius(self.oil, self.oil_unit) if self.oil is not None else Quantity(self.job.conditions["reference"]).to("°C"))
            per = float(self.mean) * (self.job.factor(at - .5) - self.job.factor(at + .5))
            if self.oil is None:
                s += times([rectangular(10)], per)  # ±10 °C, README
            else:
                s += times(self.job.pair("oil thermometer", self.oil_unit, 0), per * (5 / 9 if self.oil_unit == "°F" else 1))
        return s + [resolution(F(1, 10))]

    def spread_sources(self):
        """A difference of two outlets, their errors taken as independent."""
        s = self.outlet()
        if self.by_percent:
            s = times(s, 100 / self.average)
        s = times(s, math.sqrt(1 - 1 / len(self.q))) if self.farthest else s + s
        return s + [resolution(F(1, 10))]

    def title(self):
        if "boost" not in self.p:
            return self.name
        b = Quantity(self.p["boost"])
        read = "" if self.boost is None else f", read {fixed(self.boost, b.places)}"
        return f"{self.name}, boost {plain(b.text)} {b.unit}{read}"

    def print(self, e, verdict):
        c, r = e.c, e.r
        kind = {"what": self.name}
        c(self.title(), fixed(self.speed, 0), fixed(self.strokes, 0), **kind)
        if self.oil is None:
            c("–")
        else:
            c(fixed(self.oil, 0), **kind)
            r(fixed(self.factor, 4), **kind)
        for q, off in zip(self.q, self.off):
            r(fixed(q, 1), **kind)
            if off is not None:
                r(signed(off, 1), **kind)
        r(fixed(self.mean, 1), **kind)
        if self.shut:
            c("no delivery", **kind)
        else:
            low, high, _ = limits(self.p)
            c(f"at most {fixed(high, 1)}" if low is None else f"{fixed(low, 1)} – {fixed(high, 1)}", **kind)
            if self.limit:
                c(f"at most {fixed(self.limit.value, 1)}" + (" %" if self.by_percent else ""), **kind)
        r(fixed(self.absolute, 1), **kind)
        if not self.shut:
            r(fixed(self.percent, 1) + " %", **kind)
        if verdict:
            r(verdict, **kind)

class Run:
    """A run on the bench: B as found, M as left."""
    def __init__(self, job, stage):
        self.job, self.stage, form = job, stage, job.form
        b, n = job.bench, form.number
        self.gauge = Quantity(b["supply pressure"][0]["limits"][0])
        self.travel_gauge = Quantity(b["timing travel"][0]["limits"][0])
        self.pressure, self.travel, self.down = {}, {}, {}
        for kind, into in (("pressure", self.pressure), ("travel", self.travel)):
            for code, label in form.stage[stage]:
                if m := re.match(kind + r" at (\d+) rev/min(, coming down)?", label):
                    if (x := n(code)) is not None:
                        (self.down if m[2] else into)[int(m[1])] = x
        self.points, above = [], None
        for p in b["delivery"]:
            above = Point(self, p, above)
            self.points.append(above)
        self.fit()
        self.governor()
        box = lambda label: form.exact(stage, label)
        self.cm3, self.seconds = n(box("returned")), n(box("in the time"))
        self.flow = self.cm3 / self.seconds * F(36, 10) if self.cm3 is not None and self.seconds else None

    def fit(self):
        job, xs = self.job, sorted(self.pressure)
        ys = [self.pressure[x] for x in xs]
        self.slope = None
        if len(xs) > 1:
            assert not bends([F(x) for x in xs], ys), "a pressure that bends is not followed here"
            (self.at0, self.slope), _, _ = line([F(x) for x in xs], ys)
        # the timing piston: p·A = F0 + k·x
        self.begins = None
        piston = job.spec.get("timing piston") or {}
        stop = Quantity(piston["stroke"]).to(self.travel_gauge.unit) if "stroke" in piston else INF
        step = max(F(1, 10**self.travel_gauge.places), Quantity(job.shop["instruments"]["timing travel gauge"]["resolution"]).to(self.travel_gauge.unit))
        used = [(self.pressure[s], x) for s, x in sorted(self.travel.items()) if s in self.pressure and step / 2 < x < stop - step / 2]
        self.read_slope = None
        if len(used) > 1:
            (a0, a1), _, s = line([p for p, _ in used], [x for _, x in used])
            self.read_slope = a1
        self.sheet = "diameter" in piston
        n = len(used)
        if self.sheet and n:
            area = math.pi / 4 * float(Quantity(piston["diameter"]).to("mm")) ** 2
            kpa = float(Quantity(piston["spring rate"]).value) / area * 1000  # for each mm
            per = kpa * float(Quantity("1 " + self.travel_gauge.unit).to("mm")) / float(Quantity("1 " + self.gauge.unit).to("kPa"))
            starts = [float(p) - per * float(x) for p, x in used]
            self.begins = sum(starts) / n
            scatter = math.sqrt(sum((v - self.begins) ** 2 for v in starts) / (n - 1) / n) if n > 1 else None
            share, dof = 1 / n, n - 1
        elif n > 1:
            per = float(1 / self.read_slope)
            mean = sum(p for p, _ in used) / n
            squares = float(sum((p - mean) ** 2 for p, _ in used))
            self.begins = float(-a0 / a1)
            share, dof = 1 / n + (self.begins - float(mean)) ** 2 / squares, n - 2
            scatter = s * math.sqrt(share) * per if s is not None else None
        if self.begins is None:
            return
        self.per = per
        gauge = job.pair("pressure gauge", self.gauge.unit, self.gauge.places)
        one = combine(times(job.pair("timing travel gauge", self.travel_gauge.unit, self.travel_gauge.places), per) + gauge)[0]
        carried = (one * math.sqrt(share), INF)
        if scatter is not None and dof > 0 and scatter > carried[0]:
            carried = (scatter, dof)
        self.begins_U = combine(gauge + [carried])[1]

    def governor(self):
        job, form, n = self.job, self.job.form, self.job.form.number
        self.branch = []
        codes = [c for c, l in form.stage[self.stage] if l.startswith("falling branch, speed")]
        adds = [c for c, l in form.stage[self.stage] if l.startswith("falling branch, all outlets")]
        if not codes:
            return
        oil = n(form.exact(self.stage, "oil in the graduates"))
        # left blank, the steps stand as measured
        factor = job.factor(celsius(oil, Quantity(job.conditions["reference"]).unit)) if oil is not None else 1.0
        # as found there is no box for other strokes
        label = next(l for c, l in form.stage["M"] if l.startswith("strokes, if not"))
        usual = re.search(r"not (\d+)", label)[1]
        other = n(form.exact("M", "strokes, if not " + usual)) if self.stage == "M" else None
        strokes = other or int(usual)
        self.step_scale = 1000 / float(strokes)
        for c, a in zip(codes, adds):
            if n(c) is not None:
                # what the pen writes beside the step: rounded
                self.branch.append((n(c), rounded(float(n(a)) / job.outlets * self.step_scale * factor, 1)))
        self.branch.sort()

    def through(self, at):
        """The speed at which delivery falls through a value, on straight lines
        between the steps, at the last place; and how much it falls for 1 rev/min."""
        for (n1, q1), (n2, q2) in reversed(list(zip(self.branch, self.branch[1:]))):
            if q1 >= at > q2:
                return n1 + (q1 - at) / (q1 - q2) * (n2 - n1), (q1 - q2) / (n2 - n1)
        return None

    def run_out_sources(self, fall):
        s = self.job.pair("bench tachometer", "rev/min", 0)
        g = self.job.pair("graduates", "cm³", 1)
        g[1] = (g[1][0] / math.sqrt(self.job.outlets), INF)
        return s + times(times(g, self.step_scale) + [resolution(F(1, 10))], 1 / fall)

def fuel(job, p):
    """Fuel mass flow at a full-load point, kg/h, and the power it supports, kW."""
    e = job.spec["engine"]
    density = float(Quantity(e["fuel density at 15 °C"]).value)
    reference = Quantity(job.conditions["reference"]).to("°C")
    there = density * thermal(density, reference)
    kg = float(p.mean) * job.outlets * float(p.speed) * 60 / 1e9 * there
    return kg, kg * 1000 / float(Quantity(e["specific consumption"]).value)

def density(job):
    return Quantity(job.conditions["density at 15 °C"]).value

def factor(job, t):
    """Volume factor from t to the sheet's reference."""
    return thermal(density(job), t) / thermal(density(job), Quantity(job.conditions["reference"]).to("°C"))

Job.factor = lambda job, t: factor(job, t)

# ------------------------------------------------------------------ the items

def items(job, settings, found, left):
    """Every item with limits, in the order of the sheets."""
    form, b, out = job.form, job.bench, [s.item for s in settings]
    box = lambda label, stage="M": form.exact(stage, label)

    def bench(name, key, unit, instrument, spec):
        for s in spec:
            low, high, places = limits(s)
            unit = Quantity(s["limits"][0]).unit
            n = int(Quantity(s["speed"]).value)
            out.append(Item(f"{name} at {n} rev/min", box(f"{name} at {n} rev/min"), unit, places, low, high,
                            getattr(found, key).get(n), getattr(left, key).get(n), job.pair(instrument, unit, places), "copied"))
    bench("pressure", "pressure", None, "pressure gauge", b["supply pressure"])
    bench("travel", "travel", None, "timing travel gauge", b["timing travel"])
    for p, was in zip(left.points, found.points):
        low, high, places = limits(p.p)
        mean = lambda x: x.mean if x.run else None
        if p.shut:
            it = Item(p.name, p.mean_box, "cm³/1000", 1, None, F(0), mean(was), mean(p), safety=True)
            it.nothing, it.verdict = True, "meets" if all(x == 0 for r in p.readings for x in r) else "does not meet"
            out.append(it)
            continue
        out.append(Item(p.name, p.mean_box, "cm³/1000", 1, low, high, mean(was), mean(p), p.mean_sources()))
        if p.limit:
            out.append(Item(p.name + ", spread", p.spread_box, p.limit.unit, 1, None, p.limit.value,
                            was.spread if was.run else None, p.spread, p.spread_sources()))
    runs = b.get("run-out", [])
    for r in runs if isinstance(runs, list) else [runs]:
        at, (low, high, places) = Quantity(r["at"]).value, limits(r)
        left_at, was = left.through(at), found.through(at)
        out.append(Item(f"governor run-out at {plain(fixed(at, 1))} cm³/1000", box(f"speed at {fixed(at, 1)}"), "rev/min", 0, low, high,
                        rounded(was[0], 0) if was else None, rounded(left_at[0], 0), left.run_out_sources(left_at[1]), safety=True))
    d = b.get("droop")
    if d:
        rated, at = Quantity(d["rated"]).value, Quantity(d["no load at"]).value
        for run in (found, left):
            t = run.through(at)
            run.no_load = rounded(t[0], 0) if t else None
            # of the no-load speed as written
            run.droop = rounded((run.no_load - rated) / rated * 100, 1) if t else None
        if "at most" in d or "limits" in d:
            low, high, places = limits(d)
            s = times(left.run_out_sources(left.through(at)[1]), 100 / rated) + [resolution(F(1, 10))]
            out.append(Item("speed droop", box("droop"), "%", 1, low, high, found.droop, left.droop, s))
    if "return flow" in b:
        low, high, places = limits(b["return flow"])
        v, w = job.pair("measuring vessel", "cm³", 0), job.pair("stop watch", "s", 1)
        s = times(v, left.flow / left.cm3) + times(w, left.flow / left.seconds) + [resolution(1)]
        out.append(Item("return flow", box("return flow"), "L/h", 0, low, high,
                        rounded(found.flow, 0) if found.flow is not None else None, rounded(left.flow, 0), s))
    c = job.conditions
    for name, label, key, instrument in (("inlet temperature", "inlet temperature", "inlet temperature", "thermometer"),
                                         ("inlet temperature at the end", "inlet now", "inlet temperature", "thermometer"),
                                         ("inlet pressure", "inlet pressure", "inlet pressure", "inlet gauge")):
        low, high = (Quantity(x) for x in c[key])
        places = max(low.places, high.places)
        x, was = form.number(box(label)), form.number(form.exact("B", label))
        it = Item(name, box(label), low.unit, places, low.value, high.value, was, x, job.pair(instrument, low.unit, places), "copied")
        it.condition = True
        out.append(it)
    leak = b.get("leak test")
    if leak:
        p, t = Quantity(leak["pressure"]), Quantity(leak["time"])
        tests = [(c, l) for c, l in form.stage["L"] if re.search(r"test, housing at", l)]
        tests = [(c, l) for c, l in tests if form.value[c]] or tests[:1]
        code, label = tests[-1]
        it = Item(f"{label.split(' test')[0]} test, housing at {plain(p.text)} {p.unit} for {t.text} s", code, "", 0, None, None, None, None, safety=True)
        it.wanted = "dry"
        out.append(it)
    for name, label, wanted, safety in (("outside, running warm", "outside, running warm", "dry", True), ("solenoid on again", "solenoid on again", "delivers", False),
                                        ("stop lever by hand", "stop lever by hand", "stops it", True)):
        if box(label):
            it = Item(name, box(label), "", 0, None, None, None, None, safety=safety)
            it.wanted = wanted
            out.append(it)
    for it in out:
        if it.wanted:
            it.seen = form.value[it.code]
            it.verdict = "meets" if it.seen == it.wanted else "does not meet" if it.seen else "not measured"
    return out

# ------------------------------------------------------------ the report page

HEADS = [  # what begins a part of the report
    ("page", r"Static dimensions, "), ("curve", r"Full lever: mean delivery"), ("curve", r"Timing travel, \S+$"), ("curve", r"Supply pressure, \S+$"),
    ("curve", r"Travel on pressure, "), ("curve", r"Delivery on boost, "), ("speeds", r"Supply pressure, .* and timing travel"),
    ("comes to", r"what the readings come to"), ("engine", r"Estimate of the power"), ("found", r"Delivery as found, "), ("left", r"Delivery, "),
    ("note", r"Spread too wide"), ("hints", r"What the run as found pointed to"), ("why not", r"Not worked out, and why"),
    ("items", r"Every item"), ("shims", r"Shims and settings"), ("parts", r"Parts fitted"), ("torques", r"Torques"),
    ("who", r"Who did what"), ("instruments", r"Instruments$"), ("method", r"How it was tested"), ("symbols", r"The whole job in symbols"),
    ("explained", r"found: cleaned"), ("signed", r"tested by: "),
]

def report_text(folder):
    return subprocess.run(["pdftotext", "-raw", str(folder / "report.pdf"), "-"], capture_output=True, text=True, check=True).stdout

class Printed:
    """report.pdf as text, without the running heads and feet, in parts."""
    def __init__(self, account, job, text):
        pages = text.rstrip("\f\n").split("\f")
        number, digests = job.form_job, set()
        self.parts, name = {}, "first"
        for i, page in enumerate(pages):
            rows = page.strip("\n").split("\n")
            end = next(k for k, r in enumerate(rows) if re.match(r"page \d+ of \d+$", r))
            if rows[end] != f"page {i + 1} of {len(pages)}":
                account.fault(f"page {i + 1}: “{rows[end]}” of {len(pages)}")
            p = job.spec["pump"]
            head = f"{job.issue} {number} {p['name']}, {p['rotation']}-hand, {p['outlets']} outlets, serial {job.intake['pump']['serial']} {job.intake['customer']['reference']}"
            e = Expected(f"head of page {i + 1}", UNITS - {"in"}).c(head).r(f"{i + 1} {len(pages)}")
            compare(account, e, " ".join(rows[:end + 1]))
            feet = [k for k, r in enumerate(rows) if r.startswith("Digest ")]
            foot = " ".join(rows[feet[-1]:])
            digest = re.match(r"Digest (\w{4} \w{4} \w{4} \w{4})\.", foot)
            digests.add(digest[1])
            address = " ".join(job.shop.get("address", [])) + " " + job.shop.get("contact", "")
            compare(account, Expected(f"foot of page {i + 1}", UNITS - {"in"}).r(job.digest).c(address), foot.removeprefix("Digest ").replace(" at ", " "))
            for r in rows[end + 1:feet[-1]]:
                for key, pattern in HEADS:
                    if re.match(pattern, r):
                        name = key
                        if key == "curve":
                            self.parts.setdefault("curves", []).append([])
                        break
                (self.parts["curves"][-1] if name == "curve" else self.parts.setdefault(name, [])).append(r)
        self.pages = len(pages)

    def __getitem__(self, name):
        return " ".join(self.parts.get(name, []))

def scales(account, printed):
    """The figures at the axes: evenly spaced, each axis from one end on."""
    for rows in printed.parts.get("curves", []):
        figures = [decimal(w) for r in rows[1:] for w in r.replace("fit, 95 % band", "").split() if re.fullmatch(r"[\d.]+", w)]
        axes, run = [], []
        for x in figures:  # y downwards, then x upwards
            if len(run) > 1 and (x - run[-1]) != (run[1] - run[0]):
                axes.append(run)
                run = []
            run.append(x)
        axes.append(run)
        if len(axes) != 2 or min(len(a) for a in axes) < 3 or axes[0][0] < axes[0][1] or axes[1][0] > axes[1][1]:
            account.fault(f"axes of “{rows[0]}”: {[[str(x) for x in a] for a in axes]}")
            account.unaccounted += [str(x) for x in figures]
        account.count["scale"] += len(figures)
        head = [w for w in words(rows[0], ()) if w != "1000"]
        for w in words(rows[0], ()):
            account.count["copied"] += 1
        if head and not all(w in ("cm³", "cm³/1000") for w in head):
            account.fault(f"heading of a curve: {rows[0]}")

def check(folder, report=None):
    job, a = Job(folder), Account()
    form, spec, intake = job.form, job.spec, job.intake
    text = (folder / "readings.yaml").read_text()
    job.form_job = re.search(r"^job: (\S+)", text, re.M)[1]
    settings = [Setting(job, name, spec["dimensions"][name]) for name in PRACTICE if name in spec["dimensions"]]
    found, left = Run(job, "B"), Run(job, "M")
    every = items(job, settings, found, left)
    job.used.append("torque wrench")
    issues = list(folder.glob("issue-*.yaml"))
    assert len(issues) == 1, "a report that replaces another is not followed here"
    job.issue = issues[0].stem.removeprefix("issue-")
    job.issued = max(form.text(s, l) for s in form.stage for l in ("date", "signed on"))
    counted = [it for it in every if not it.condition]
    conditions = [it for it in every if it.condition]
    met = lambda its: sum(it.verdict == "meets" for it in its)
    verdict = "meets its test sheet" if met(every) == len(every) else "does not meet"
    job.digest = digest(job, verdict, every, text)
    printed = Printed(a, job, report or report_text(folder))
    scales(a, printed)

    # -- page one
    first = printed["first"]
    def says(phrase, part=first):
        if phrase not in " ".join(part.split()):
            a.fault(f"“{phrase}” is not printed")
    says(f"{met(counted)} of {len(counted)} items met, {met(conditions)} of {len(conditions)} conditions")
    says("Meets its test sheet" if verdict.startswith("meets") else "Does not meet")
    on = lambda stage: form.text(stage, "date") or form.text(stage, "signed on")
    date = lambda stage: day(on(stage))
    by = lambda stage, label: form.text(stage, label)
    says(f"received {day(intake['received'])} by {intake['by']}")
    says(f"tested {date('M')} by {by('M', 'done by')}")
    says(f"released {date('N')} by {by('N', 'released by')}")
    changed = [s for s in settings if s.change != "none"]
    ran = [p for p in left.points if p.run]
    torque = [t for t in spec["torques"]]
    done = [c for stage in "EFJKL" for c, l in form.stage[stage] if l.startswith("torque: ")]
    tight = sum(form.value[c] == "yes" for c in done)
    did = (f"{len(settings)} static dimensions measured, {len(changed)} of them changed and measured again",
           f"{tight} of {len(torque)} torques", f"bench run, {len(ran)} of {len(left.points)} delivery points")
    outs = [s for s in settings if s.item.foundOut() is not None]
    worst = max(outs, key=lambda s: abs(s.item.foundOut()) / (s.high - s.low), default=None)
    says_out = f"{len(outs)} of {len(settings)} inner settings out, most of all: {worst.title}, {worst.fmt(abs(worst.item.foundOut()))} {worst.unit} too {'small' if worst.item.foundOut() < 0 else 'large'}"
    for s in did + (says_out,):
        says(s)
    hints = findings(job, found)
    for h in hints:
        says(h, printed["hints"])
    parts = [(form.value[q], form.value[q[:-1] + "p"]) for q, l in form.stage["C"] if l.startswith("quantity") and form.value[q]]
    for q, p in parts:
        says(f"{q} × {p}")
    pool = {}
    def put(kind, *texts):
        for t in texts:
            for w in words(str(t), ()):
                pool.setdefault(w, kind)
    vouched = spec["vouched"]
    typed = [vouched["from"], day(vouched["on"]), day(intake["received"]), date("M"), date("N"), intake["engine"], intake["complaint"],
             *intake["authorised"].values(), form.text("C", "approval"), form.text("C", "who agreed, and up to what amount"),
             *(f"{q} {p}" for q, p in parts), form.text("N", "note for the customer")]
    put("recomputed", f"{met(counted)} {len(counted)} {met(conditions)} {len(conditions)}", *did, says_out, *hints)
    if more := re.search(r"(\d+) more, see the record", first):
        heads = re.findall(r"\d+\. ([^;]*?) rests on ", printed["hints"])
        hidden = sum(h not in " ".join(first.split()) for h in heads)
        if int(more[1]) != hidden:
            a.fault(f"“{more[0]}”, but {hidden} findings of the record are not on page one")
        put("recomputed", more[1])
    put("copied", "95")  # the decision rule's
    put("copied", *typed)
    allowed(a, "first page", first, pool)
    e = Expected("static dimensions", UNITS - {"in"})
    for s in settings:
        it = s.item
        e.c(it.window(), what=s.title).r(it.figure(it.found), s.change, it.figure(it.left), up(it.U, it.places), it.verdict, what=s.title)
        if s.expected is not None and not s.agrees:
            a.fault(f"{s.title}: {s.again} does not agree")
    compare(a, e, " ".join(printed.parts["page"][1:]))
    compare(a, Expected("below the table").c("95 %"), printed["explained"])
    compare(a, Expected("signatures").c(date("N")), printed["signed"])

    # -- the bench
    reference = job.conditions["reference"]
    for name, run in (("left", left), ("found", found)):
        e = Expected("deliveries as " + name, UNITS - {"in"})
        e.c(f"1000 {reference}" + (" %" if name == "left" else "") + f" rev/min {Quantity(reference).unit} {' '.join(job.marks)}")
        for p, spec_of in zip(run.points, left.points):
            if p.run:
                verdicts = {it.verdict for it in every if it.code in (p.mean_box, p.spread_box) and it.verdict}
                p.print(e, ("meets" if verdicts == {"meets"} else "does not meet") if name == "left" else None)
        body = printed[name].replace("cm³ per", "per")
        compare(a, e, body)
    apart = [p for p in found.points if p.run and p.apart is not None]
    if apart:
        e = Expected("note below the deliveries as found", {"%"}).c("5 %")
        for p in apart:
            e.c(job.marks[p.apart]).r(f"{fixed(abs(p.apart_by), 1)} %", what=p.name)
        compare(a, e, printed["note"].replace("outlet A", "A"))
    e = Expected("pressures and travels by speed")
    first_gauge, travel_gauge = left.gauge, left.travel_gauge
    e.c(f"{first_gauge.unit} {travel_gauge.unit} rev/min")
    windows = lambda list_, n: next((f"{fixed(limits(s)[0], limits(s)[2])} – {fixed(limits(s)[1], limits(s)[2])}" for s in list_ if int(Quantity(s['speed']).value) == n), "–")
    speeds = sorted(set(left.pressure) | set(left.travel) | set(found.pressure) | set(found.travel))
    pin = (spec.get("timing piston") or {}).get("pin radius")
    show = lambda x, g: "–" if x is None else fixed(x, g.places)
    for n in speeds:
        e.c(n, windows(job.bench["supply pressure"], n), show(found.pressure.get(n), first_gauge), show(left.pressure.get(n), first_gauge),
            windows(job.bench["timing travel"], n), *(show(x.get(n), travel_gauge) for x in (found.travel, found.down, left.travel, left.down)), what=f"at {n} rev/min")
        if pin and n in left.travel:
            angle = math.degrees(math.asin(float(left.travel[n] / Quantity(pin).to(travel_gauge.unit))))
            e.r(fixed(angle, 1), fixed(2 * angle, 1), what=f"degrees at {n} rev/min")
        else:
            e.c("– –")
    compare(a, e, printed["speeds"])

    # -- what the readings come to
    e, p_unit, x_unit = Expected("what the readings come to"), first_gauge.unit, travel_gauge.unit
    def row(label, of, unit, kind="r"):
        cells = [of(run) for run in (found, left)]
        if any(c is not None for c in cells):
            e.c(label)
            for c in cells:
                e.c("–") if c is None else e.r(c, what=label)
            e.c(unit)
    num = lambda x: fixed(x, three(x))
    row("supply pressure rises, for 1000 rev/min", lambda r: num(float(r.slope) * 1000), f"{p_unit}")
    row("timing piston begins to move at", lambda r: None if r.begins is None else f"{num(r.begins)} ± {up(r.begins_U, three(r.begins))}", p_unit)
    row("which is at", lambda r: None if r.begins is None else fixed((r.begins - float(r.at0)) / float(r.slope), 0), "rev/min")
    row("then moves for 1 " + p_unit, lambda r: None if r.begins is None else num(1 / r.per), x_unit)
    if left.sheet:
        row("and by the readings alone", lambda r: None if r.read_slope is None else num(float(r.read_slope)), x_unit)
    row("travel gained in 1000 rev/min on the slope", lambda r: None if r.begins is None else num(float(r.slope) * 1000 / r.per), x_unit)
    row("most that coming down differs from going up", lambda r: show(max((abs(r.down[n] - r.travel[n]) for n in r.down), default=None), travel_gauge), x_unit)
    d = job.bench.get("droop")
    if d:
        row(f"no-load speed, at {plain(Quantity(d['no load at']).text)} cm³/1000", lambda r: None if r.no_load is None else fixed(r.no_load, 0), "rev/min")
        row(f"speed droop from {plain(Quantity(d['rated']).text)} rev/min 3046-4", lambda r: None if r.droop is None else fixed(r.droop, 1), "%")
    for p, was in zip(left.points, found.points):
        if p.p["kind"] == "full load":
            text_of = lambda x: None if not x.run else "{} kg/h {} kW".format(fixed(fuel(job, x)[0], 1), fixed(fuel(job, x)[1], 0))
            row(f"estimate: fuel at full load, {fixed(p.speed, 0)} rev/min", lambda r: text_of(p if r is left else was), "")
    compare(a, e, printed["comes to"].replace(", and what it is enough for", ""))
    engine = spec["engine"]
    compare(a, Expected("engine", UNITS - {"in"}).c(f"{engine['fuel density at 15 °C']} 15 °C {engine['specific consumption']}"), printed["engine"])

    # -- the findings: figures worked out, and boxes that exist and were typed or worked out
    pool = {}
    put("recomputed", *hints, *(str(i + 1) for i in range(len(re.findall(r"rests on ", printed["hints"])))))
    put("copied", *form.value)
    allowed(a, "what the run as found pointed to", printed["hints"], pool)
    numbered = [int(n) for n in re.findall(r"(?:^| )(\d+)\. (?=[A-Z])", printed["hints"])]
    if numbered != list(range(1, len(numbered) + 1)):
        a.fault(f"findings are numbered {numbered}")
    pool = {}
    put("copied", *form.value)
    allowed(a, "not worked out", printed["why not"], pool)

    # -- every item
    e = Expected("every item", UNITS).c("95 %").c("99.9 %")
    for it in every:
        safety = " (safety)" if it.safety else ""
        k = e.c if it.kind == "copied" else e.r
        e.c(it.code, it.name, it.window() if not it.wanted else it.wanted, it.unit, what=it.name)
        if it.wanted:
            e.c(it.seen, what=it.name).r(it.verdict, what=it.name)
            continue
        k(it.figure(it.found), it.figure(it.left), what=it.name)
        if it.U is None:
            e.c("– –")
        else:
            e.r(up(it.U, it.places), what=it.name)
            if it.P < 0.999:
                e.r(fixed(F(math.floor(it.P * 1000 + 1e-9), 10), 1) + " %", what=it.name)
        e.r(it.verdict, what=it.name)
    compare(a, e, printed["items"])
    for it in every:  # the unit stands in the row, not only in a heading
        if it.unit and not re.search(rf"\b{re.escape(it.code)} .*?{re.escape(it.unit)} ", printed["items"]):
            a.fault(f"every item, {it.name}: its unit {it.unit} is not in the text")

    # -- shims and settings
    e = Expected("shims and settings", UNITS - {"in", "mm"})
    for s in settings:
        e.r(s.change, s.answer, s.again, what=s.title)
    screw = screw_line(job, left)
    if screw:
        e.c("–")
        e.r(screw, what="full-load screw")
    compare(a, e, printed["shims"])
    e = Expected("parts fitted", ())
    for q, p in parts:
        e.c(f"{q} {p}")
    compare(a, e, printed["parts"])
    e = Expected("torques")
    for t in torque:
        e.c(t["name"], t["count"], ", then ".join(t["steps"]), what=t["name"])
    compare(a, e, printed["torques"])
    e = Expected("who did what", ())
    for stage in form.stage:
        e.c(date(stage), what="stage " + stage)
    compare(a, e, printed["who"])

    # -- instruments, in the order printed
    e, part = Expected("instruments"), printed["instruments"]
    inst = job.shop["instruments"]
    places = {name: part.find(f" {name} {i['number']} ") for name, i in inst.items()}
    missing = [n for n in job.used + (["boost gauge"] if any(p.boost is not None for p in left.points) else []) if places[n] < 0]
    if missing:
        a.fault(f"instruments: {missing} were used and are not printed")
    for name in sorted((n for n in places if places[n] >= 0), key=places.get):
        i = inst[name]
        pe, r = Quantity(i["permissible error"]), Quantity(i["resolution"])
        e.c(name, i["number"], f"±{plain(pe.text)} {pe.unit} {plain(r.text)} {r.unit} {day(i['calibration due'])}", what=name)
    compare(a, e, part)

    pool = {}
    c = job.conditions
    put("copied", c["test oil"], c["nozzle holders"], c["pipes"], reference, c["density at 15 °C"], "15", vouched["from"], day(vouched["on"]),
        "95", "91", "D1250", "54B", "1000", *typed, spec["pump"]["name"], spec["pump"]["outlets"], intake["pump"]["serial"],
        *job.shop.get("address", []), *intake["customer"].values(), job.issue, *(date(stage) for stage in form.stage))
    allowed(a, "how it was tested", printed["method"], pool)
    for phrase in (f"vouched {vouched['by']} {day(vouched['on'])}", ", ".join([job.shop["name"], *job.shop.get("address", [])]),
                   f"{day(intake['received'])}: ", f"bench run {date('M')}", intake["engine"], c["test oil"], c["nozzle holders"], c["pipes"],
                   ", ".join(intake["customer"].values()), ", ".join(intake["authorised"].values()), form.text("C", "who agreed, and up to what amount"), f"{spec['pump']['outlets']} outlets, serial {intake['pump']['serial']}", f"issue {job.issue}: {day(job.issued)}"):
        says(" ".join(phrase.split()), printed["method"])
    says(f"vouched {vouched['by']} {day(vouched['on'])}")
    n = len(re.findall(rf"\d+ of \d+ · {job.form_job}", printed["symbols"]))
    pool = {job.form_job: "copied"} | {str(i): "copied" for i in range(1, max(n, 3) + 1)}
    for i in range(1, n + 1):
        says(f"{i} of {n} · {job.form_job}", printed["symbols"])
    says(f"when it has all {n}.", printed["symbols"])
    allowed(a, "symbols", printed["symbols"], pool)
    return a, printed.pages

def findings(job, found):
    """What the run as found pointed to, as far as figures go."""
    b, out = job.bench, []
    def speeds(list_):
        list_ = [fixed(n, 0) for n in list_]
        return (", ".join(list_[:-1]) + " and " + list_[-1] if len(list_) > 1 else list_[0]) + " rev/min"
    low = [int(Quantity(s["speed"]).value) for s in b["supply pressure"]
           if (x := found.pressure.get(int(Quantity(s["speed"]).value))) is not None and x < limits(s)[0]]
    if low:
        out.append(f"Supply pressure is low at {speeds(low)}")
    points = [p for p in found.points if p.run]
    for i, mark in enumerate(job.marks):
        apart = [p for p in points if p.apart == i]
        if apart:
            most = max((p.apart_by for p in apart), key=abs)
            out.append(f"Outlet {mark} gives {fixed(abs(most), 0)} % {'less' if most < 0 else 'more'} than the others, at {speeds([p.speed for p in apart])}")
    full = [p for p in points if p.p["kind"] == "full load"]
    off = []
    for p in full:
        l, h, _ = limits(p.p)
        off.append(((p.others if p.apart is not None else float(p.mean)) / float((l + h) / 2) - 1) * 100)
    if off and any(p.mean < limits(p.p)[0] for p in full):
        where = "every speed" if len(full) > 1 else speeds([full[0].speed])
        without = {job.marks[p.apart] for p in full if p.apart is not None}
        out.append(f"Full-load delivery is low by about {fixed(abs(sum(off) / len(off)), 0)} %, at {where}"
                   + "".join(f" (without outlet {m})" for m in without))
    runs = b.get("run-out", [])
    for r in runs if isinstance(runs, list) else [runs]:
        t = found.through(Quantity(r["at"]).value)
        if t and rounded(t[0], 0) < limits(r)[0]:
            out.append(f"Governor runs out {fixed(limits(r)[0] - rounded(t[0], 0), 0)} rev/min early")
            break
    return out

def screw_line(job, run):
    """The places of the full-load screw that were tried, the secant of the last
    two to the middle of the limits, and where it was left."""
    n = lambda label: job.form.number(job.form.exact("M", label))
    places = [(n(f"full-load screw, place {i}"), n(f"mean at place {i}")) for i in (1, 2, 3)]
    places = [p for p in places if None not in p]
    end = n("screw left at")
    if len(places) < 2 or end is None:
        return None
    point = next(p for p in run.points if p.name == job.bench["full-load screw"])
    low, high, _ = limits(point.p)
    (p1, q1), (p2, q2) = places[-2:]
    turns = ((low + high) / 2 - q2) * (p2 - p1) / (q2 - q1)
    tried = "; ".join(f"screw at {signed(p, 2)} turn: {fixed(q, 1)}" for p, q in places)
    return f"{tried}; then {signed(turns, 2)} turn wanted; left at {signed(end, 2)} turn; {fixed(point.mean, 1)} cm³/1000"

def digest(job, verdict, every, text):
    """The digest in the foot: 64 bits of the SHA-256 of the job's number, the
    document's letter, and names and bytes of what the report rests on, each
    with its length before it; the last of them are the results, worked out
    here. Sixteen digits of the alphabet 0-9 C E H K P X."""
    h = hashlib.sha256()
    def part(b):
        h.update(len(b).to_bytes(8, "big") + b)
    plain_form = re.findall(r"^(form|job|edition|typed by|[A-Z]\d+[a-z]?(?:\.\d+[ab]?)?): *([^#\n]*?) *(?:#.*)?$", text, re.M)
    hours = job.form.exact("N", "hours of work")  # are in no report
    rows = "".join(f"{k}: {v}\n" for k, v in plain_form if v and k != hours)
    results = [f"{verdict};{sum(i.verdict == 'meets' and not i.condition for i in every)};{sum(not i.condition for i in every)}"]
    for i in every:
        cell = lambda x, places: "" if x is None else fixed(x, places).replace("−", "-")
        results.append(f"{i.code};{i.verdict};{cell(i.found, i.places)};{cell(i.left, i.places)};{cell(i.U, i.places + 1)}{i.seen if i.wanted else ''}")
    part(job.form_job.encode())
    part(b"R")
    for name in ("intake.yaml", "spec.yaml", "shop.yaml"):
        part(name.encode())
        part((job.folder / name).read_bytes())
    part(b"readings.yaml")
    part(rows.encode())
    part(b"results.txt")
    part(("\n".join(results) + "\n").encode())
    part(b"issue.yaml")
    part(f'issue: {job.issue}\ndate: "{job.issued}"\n'.encode())
    hexed = h.hexdigest()[:16].translate(str.maketrans("abcdef", "CEHKPX"))
    return " ".join(hexed[i:i + 4] for i in range(0, 16, 4))

def altered(folder, step):
    """Alters every so many figure of the report's text in its last digit, one at a
    time: each must be noticed, but for boxes that a finding rests on or that were
    left blank, and the numbers of the instructions."""
    text, n, missed = report_text(folder), 0, []
    figures = [m for m in re.finditer(r"\d+(?:[.,]\d+)*", text)]
    for m in figures[step - 1::step]:
        row = text[text.rfind("\n", 0, m.start()) + 1:text.find("\n", m.end())]
        if re.match(r"rests on |as found, [a-z ]+: [A-Z]\d|p·A = F0|\d\. (Photograph|It tells|Whoever)", row):
            continue
        n += 1
        try:
            a, _ = check(folder, text[:m.end() - 1] + str((int(m[0][-1]) + 1) % 10) + text[m.end():])
            if not a.faults and not a.unaccounted:
                missed.append(f"{folder}: {m[0]} altered in “{row}”, and not noticed")
        except (AssertionError, TypeError, IndexError, StopIteration, ValueError):
            pass  # it stops
    print(*missed, f"{folder}: {n} of {len(figures)} figures altered, {n - len(missed)} noticed", sep="\n")
    return len(missed)

def main():
    bad, folders = 0, sys.argv[1:]
    if folders[:1] == ["--altered"]:
        sys.exit(sum(altered(Path(f), int(folders[1])) for f in folders[2:]) > 0)
    for folder in folders:
        a, pages = check(Path(folder))
        for f in a.faults:
            print(f"{folder}: {f}")
        print(f"{folder}, {pages} pages: {a.count['recomputed']} figures recomputed, {a.count['copied']} copied, "
              f"{a.count['scale']} at axes, {len(a.unaccounted)} not accounted for")
        bad += len(a.faults)
    sys.exit(1 if bad or len(sys.argv) < 2 else 0)

if __name__ == "__main__":
    main()
