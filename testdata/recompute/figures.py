"""The arithmetic, what was typed, and the account of what is printed; see
recompute.py. No code of the project is used."""
import difflib
import math
import re
from fractions import Fraction as F
from statistics import NormalDist

import yaml

# ---------------------------------------------------------------- arithmetic

def decimal(text):
    return F(text.replace(",", ".").replace("−", "-"))

def fixed(x, places):
    """Rounded half away from zero. A figure from roots or powers is taken to
    14 figures first, so that binary noise does not decide a half."""
    if not isinstance(x, F):
        x = F("%.14g" % x)
    n = math.floor(abs(x) * 10**places + F(1, 2))
    digits = str(n).rjust(places + 1, "0")
    sign = "−" if x < 0 and n else ""
    return sign + (digits[:-places] + "." + digits[-places:] if places else digits)

def rounded(x, places):
    return decimal(fixed(x, places))

def up(x, places):
    """Rounded up, as uncertainties are printed (JCGM 100, 7.2.6)."""
    return fixed(F(math.ceil(x * 10**places - 1e-9), 10**places), places)

def three(x):
    return max(0, 2 - math.floor(math.log10(abs(x))))

def signed(x, places):
    s = fixed(x, places)
    return "+" + s if decimal(s) > 0 else s

def t_tail(t, nu):
    """P(|T| <= t) of Student's t: the density integrated by Simpson's rule."""
    c = math.exp(math.lgamma((nu + 1) / 2) - math.lgamma(nu / 2)) / math.sqrt(nu * math.pi)
    n = 600
    # x = tan(a) keeps the heavy tails of few degrees of freedom in reach
    top = math.atan(t)
    f = lambda a: c * (1 + math.tan(a) ** 2 / nu) ** (-(nu + 1) / 2) / math.cos(a) ** 2
    h = top / n
    s = f(0) + f(top) + sum((4 if i % 2 else 2) * f(i * h) for i in range(1, n))
    return 2 * s * h / 3

def student(p, nu, memo={}):
    """The t that |T| does not exceed with probability p."""
    if math.isinf(nu):
        return NormalDist().inv_cdf((1 + p) / 2)
    if (p, nu) not in memo:
        low, high = 0.0, 1e4
        for _ in range(70):
            mid = (low + high) / 2
            low, high = (mid, high) if t_tail(mid, nu) < p else (low, mid)
        memo[p, nu] = low
    return memo[p, nu]

INF = math.inf

def combine(sources):
    """Combined and expanded uncertainty, 95 %, of (u, degrees of freedom):
    JCGM 100, 5.1.2 and G.4.1 (Welch-Satterthwaite, cut to a whole number)."""
    uc = math.sqrt(sum(u * u for u, _ in sources))
    if not uc:
        return 0.0, 0.0
    limits = sum((u / uc) ** 4 / nu for u, nu in sources)
    nu = 1 / limits if limits else INF
    if 1 < nu < INF:
        nu = math.floor(nu + 1e-9)
    return uc, student(0.95, nu) * uc

def rectangular(half):
    return (float(half) / math.sqrt(3), INF)  # JCGM 100, 4.3.7

def resolution(step):
    return (float(step) / math.sqrt(12), INF)  # JCGM 100, F.2.2.1

def times(sources, by):
    return [(u * abs(float(by)), nu) for u, nu in sources]

def conformity(x, u, low, high):
    """JCGM 106, 7: probability that the true value lies within the limits."""
    tail = lambda z: 0.5 * math.erfc(z / math.sqrt(2))
    out = 0.0
    if low is not None:
        out += tail((float(x) - float(low)) / u)
    if high is not None:
        out += tail((float(high) - float(x)) / u)
    return 1 - out

def decide(x, U, low, high):
    x, s = float(x), 1e-9
    low, high = -INF if low is None else float(low), INF if high is None else float(high)
    if x - U >= low - s and x + U <= high + s:
        return "meets"
    if x + U < low - s or x - U > high + s:
        return "does not meet"
    return "too close to call"

def thermal(density, celsius):
    """Volume at 15 °C of a volume at celsius, ASTM D1250 table 54B (API MPMS
    11.1): K0 and K1 of each range of products, density in kg/m³ at 15 °C."""
    d = float(density)
    if d < 770.5:
        a = 346.4228 / d**2 + 0.4388 / d
    elif d < 787.5:
        a = 2680.3206 / d**2 - 0.00336312
    elif d < 839:
        a = 594.5418 / d**2
    else:
        a = 186.9696 / d**2 + 0.4862 / d
    dt = float(celsius) - 15
    return math.exp(-a * dt * (1 + 0.8 * a * dt))

def line(xs, ys, degree=1):
    """Least squares by exact normal equations: coefficients, the inverse, s."""
    n = degree + 1
    m = [[sum(x ** (i + j) for x in xs) for j in range(n)] + [F(int(i == j)) for j in range(n)] for i in range(n)]
    for i in range(n):
        p = next(r for r in range(i, n) if m[r][i])
        m[i], m[p] = m[p], m[i]
        m[i] = [v / m[i][i] for v in m[i]]
        for r in range(n):
            if r != i:
                m[r] = [a - m[r][i] * b for a, b in zip(m[r], m[i])]
    inv = [r[n:] for r in m]
    b = [sum(y * x**i for x, y in zip(xs, ys)) for i in range(n)]
    c = [sum(inv[i][j] * b[j] for j in range(n)) for i in range(n)]
    rest = sum((y - sum(k * x**i for i, k in enumerate(c))) ** 2 for x, y in zip(xs, ys))
    s = math.sqrt(rest / (len(xs) - n)) if len(xs) > n else None
    return c, inv, s

def bends(xs, ys):
    """Whether a parabola's t test (5 %) says that points bend."""
    if len(set(xs)) < 4:
        return False
    c, inv, s = line(xs, ys, 2)
    return s and abs(float(c[2])) / (s * math.sqrt(inv[2][2])) > student(0.95, len(xs) - 3)

def outlier(v):
    """Grubbs' test, two-sided 5 %: NIST/SEMATECH e-Handbook 1.3.5.17.1."""
    n, mean = len(v), sum(v) / len(v)
    s = math.sqrt(sum((x - mean) ** 2 for x in v) / (n - 1))
    if not s or n < 3:
        return None
    i = max(range(n), key=lambda k: abs(v[k] - mean))
    t = student(1 - 0.05 / n, n - 2)
    return i if abs(v[i] - mean) / s > (n - 1) / math.sqrt(n) * math.sqrt(t * t / (n - 2 + t * t)) else None

# ------------------------------------------------------------ what was typed

FACTOR = {"mm": F(1), "in": F("25.4"), "bar": F(100), "kPa": F(1), "psi": F("6.894757293168361"),
          "N/mm": F(1), "rev/min": F(1), "cm³": F(1), "s": F(1)}

class Quantity:
    """A figure with a unit, as a spec or shop file writes it."""
    def __init__(self, text):
        self.text, _, self.unit = str(text).partition(" ")
        self.value = decimal(self.text)
        self.places = len(self.text.partition(".")[2])

    def to(self, unit):
        if unit == self.unit:
            return self.value
        if self.unit == "°F" and unit == "°C":
            return (self.value - 32) * F(5, 9)
        return self.value * FACTOR[self.unit] / FACTOR[unit]

def celsius(value, unit):
    return (value - 32) * F(5, 9) if unit == "°F" else value

def limits(d):
    """Low and high of a spec's entry, either None, the decimals, and as printed."""
    if "limits" in d:
        low, high = (Quantity(x) for x in d["limits"])
        return low.value, high.value, max(low.places, high.places)
    high = Quantity(d["at most"])
    return None, high.value, high.places

class Form:
    def __init__(self, path):
        self.value, self.stage, self.remark = {}, {}, {}
        for row in path.read_text().splitlines():
            if m := re.match(r"([A-Z])(\d+[a-z]?(?:\.\d+[ab]?)?): *(.*?) *# ?(= )?(.*)$", row):
                stage, label = m[1], re.sub(r" \(required\)$", "", m[5])
                typed = m[3].strip('"')
                note = re.search(r" ?\(.*\)$", typed) if re.match(r"[-−+\d]", typed) else None
                if note:
                    typed = typed[:note.start()]
                self.stage.setdefault(stage, []).append((m[1] + m[2], label))
                self.value[m[1] + m[2]] = typed.removesuffix("!").strip()

    def codes(self, stage, label):
        """The boxes of a stage whose label is this, before its unit or choices."""
        return [c for c, l in self.stage.get(stage, []) if l == label or l.startswith((label + ", ", label + ": "))]

    def exact(self, stage, label):
        """The box whose label is this, and then its unit and window only."""
        short = [(len(l), c) for c, l in self.stage.get(stage, []) if l == label or l.startswith((label + ", ", label + ": "))]
        return min(short)[1] if short else None

    def number(self, code):
        s = self.value.get(code, "") if code else ""
        return decimal(s) if re.fullmatch(r"[-−+]?\d+([.,]\d+)?", s) else None

    def text(self, stage, label):
        return self.value.get(self.exact(stage, label) or "", "")

class Job:
    def __init__(self, folder):
        read = lambda name: yaml.load((folder / name).read_text(), Loader=yaml.BaseLoader)
        self.folder = folder
        self.intake, self.spec, self.shop = read("intake.yaml"), read("spec.yaml"), read("shop.yaml")
        self.form = Form(folder / "readings.yaml")
        self.bench = self.spec["bench"]
        self.conditions = self.bench["conditions"]
        self.outlets = int(self.spec["pump"]["outlets"])
        self.marks = self.spec["pump"].get("outlet marks") or [str(i + 1) for i in range(self.outlets)]
        self.used = []

    def pair(self, instrument, unit, places):
        """Permissible error and resolution of a reading, as two sources. A
        reading is no finer than it is written."""
        if instrument not in self.used:
            self.used.append(instrument)
        i = self.shop["instruments"][instrument]
        a, r = Quantity(i["permissible error"]), Quantity(i["resolution"])
        by = F(5, 9) if (a.unit, unit) == ("°F", "°C") else 1 if a.unit == unit else FACTOR[a.unit] / FACTOR[unit]
        return [rectangular(a.value * by), resolution(max(r.value * by, F(1, 10**places)))]

def summed(pair, n):
    """Of a sum of n readings the instrument's error adds up, the rounding does not."""
    return [(pair[0][0] * n, INF), (pair[1][0] * math.sqrt(n), INF)]

# --------------------------------------------------------------- the account

class Account:
    """What must be printed, in order, as words; and how each figure came."""
    def __init__(self):
        self.faults, self.count = [], {"recomputed": 0, "copied": 0, "scale": 0}
        self.unaccounted = []

    def fault(self, text):
        self.faults.append(text)

UNITS = {"mm", "in", "bar", "psi", "%", "°C", "°F", "L/h", "rev/min", "N·m", "lbf·in", "lbf·ft", "kW", "kg/h", "cm³",
         "s", "–", "meets", "dry", "delivers", "stops", "none"}

def words(text, keep):
    """The words of a text that hold a figure, or are asked for."""
    out = []
    for w in text.split():
        w = w.lstrip("(“\"×=±").rstrip(")”\",;:").removesuffix(".")
        if re.search(r"\d", w, re.ASCII) or w in keep:
            out.append(w)
    return out

class Expected:
    """A table or paragraph as it must be printed. c(...) is copied, r(...)
    recomputed; both may hold words besides."""
    def __init__(self, name, keep=UNITS):
        self.name, self.keep, self.items = name, keep, []

    def c(self, *texts, what=""):
        return self._add("copied", texts, what)

    def r(self, *texts, what=""):
        return self._add("recomputed", texts, what)

    def _add(self, kind, texts, what):
        for t in texts:
            self.items += [(w, kind, what) for w in words(str(t), self.keep)]
        return self

def compare(account, expected, text):
    """Holds a printed text against what it must say, in order."""
    printed = words(text, expected.keep)
    want = [w for w, _, _ in expected.items]
    for op, a, b, c, d in difflib.SequenceMatcher(None, want, printed, autojunk=False).get_opcodes():
        if op == "equal":
            for w, kind, _ in expected.items[a:b]:
                if re.search(r"\d", w, re.ASCII):
                    account.count[kind] += 1
            continue
        what = expected.items[min(a, len(want) - 1)][2] if want else ""
        account.fault(f"{expected.name}{', ' + what if what else ''}: printed “{' '.join(printed[c:d])}”, "
                      f"worked out “{' '.join(want[a:b])}” (after “{' '.join(printed[max(0, c-4):c])}”)")
        account.unaccounted += [w for w in printed[c:d] if re.search(r"\d", w, re.ASCII)]

def allowed(account, name, text, pool):
    """Holds running prose against the figures it may contain, each word once
    or more; the phrases that carry verdicts are checked apart."""
    for w in words(text, ()):
        if w in pool:
            account.count[pool[w]] += 1
        else:
            account.fault(f"{name}: printed “{w}”, which is neither typed nor worked out")
            account.unaccounted.append(w)
