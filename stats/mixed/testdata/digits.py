# REML and Kenward-Roger for some cases of testdata/reference/mixed.json with 50 decimal
# digits (mpmath), from the matrix formulas of the papers and nothing else: V = gB*ZZ' + gE*I,
# P, Phi, and P_r, Q_rs, W of Kenward and Roger 1997, Biometrics 53:983, as in pbkrtest;
# the root of the REML score by the secant method from lme4's estimate. Run here:
#
#   python3 digits.py > digits.json
import json, mpmath
from mpmath import mp, mpf, matrix, eye, log, pi, sqrt, findroot

mp.dps = 50
WANTED = ["zero_7x7x3", "near_zero_chain", "uneven", "npk", "large_blocks", "tiny_error", "Dyestuff"]

def trace(m): return sum(m[i, i] for i in range(m.rows))

class Study:
    def __init__(self, c):
        self.n, self.t = len(c["y"]), c["foods"]
        self.y = matrix([mpf(repr(v)) for v in c["y"]])
        self.X, self.G = matrix(self.n, self.t), matrix(self.n, self.n)
        for i in range(self.n):
            self.X[i, c["food"][i] - 1] = 1
            for j in range(self.n):
                self.G[i, j] = 1 if c["block"][i] == c["block"][j] else 0

    def parts(self, lam):
        V = eye(self.n) + lam * self.G
        Vi = V**-1
        Phi = (self.X.T * Vi * self.X)**-1
        return V, Vi, Phi, Vi - Vi * self.X * Phi * self.X.T * Vi

    def score(self, lam):
        P = self.parts(lam)[3]
        Py = P * self.y
        return (self.n - self.t) * (Py.T * self.G * Py)[0] / (self.y.T * Py)[0] - trace(P * self.G)

    def fit(self, start):
        lam = mpf(0)
        if self.score(lam) > 0:
            lam = findroot(self.score, (start, start * mpf("1.0001")))
        V, Vi, Phi, P = self.parts(lam)
        df = self.n - self.t
        q = (self.y.T * P * self.y)[0]
        gE = q / df
        criterion = log(mp.det(V)) - log(mp.det(Phi)) + df * (1 + log(2 * pi * q / df))
        beta = Phi * self.X.T * Vi * self.y
        # absolute units from here
        Vi, Phi, P, G = Vi / gE, Phi * gE, P / gE, [self.G, eye(self.n)]
        I = matrix(2, 2)
        for r in range(2):
            for s in range(2):
                I[r, s] = trace(P * G[r] * P * G[s]) / 2
        W = I**-1
        Pr = [-(self.X.T * Vi * g * Vi * self.X) for g in G]
        U = matrix(self.t, self.t)
        for r in range(2):
            for s in range(2):
                Q = self.X.T * Vi * G[r] * Vi * G[s] * Vi * self.X
                U += W[r, s] * (Q - Pr[r] * Phi * Pr[s])
        PhiA = Phi + 2 * Phi * U * Phi
        out = {"theta": sqrt(lam), "criterion": criterion, "block_variance": lam * gE, "error_variance": gE,
               "estimate": [], "se": [], "se_unadjusted": [], "df": []}
        for l in self.combinations():
            v = (l.T * Phi * l)[0]
            a = [(l.T * Phi * p * Phi * l)[0] / v for p in Pr]
            A = sum(W[r, s] * a[r] * a[s] for r in range(2) for s in range(2))
            B = 7 * A / 2
            V0, V1, V2 = 1 - B / 7, 1 - 2 * B / 7, 1 - 4 * B / 7  # c1, c2, c3 of the paper for one combination, A1 = A2
            rho = ((1 - A) / V1)**2 * V0 / V2
            out["estimate"].append((l.T * beta)[0]); out["se"].append(sqrt((l.T * PhiA * l)[0]))
            out["se_unadjusted"].append(sqrt(v)); out["df"].append(4 + 3 / (rho - 1))
        return out

    def combinations(self):
        for i in range(self.t):
            l = matrix(self.t, 1); l[i] = 1
            yield l
        for a in range(self.t):
            for b in range(a + 1, self.t):
                l = matrix(self.t, 1); l[a], l[b] = 1, -1
                yield l

def plain(x):
    if isinstance(x, dict): return {k: plain(v) for k, v in x.items()}
    if isinstance(x, list): return [plain(v) for v in x]
    return float(x)

cases = {c["name"]: c for c in json.load(open("../../../testdata/reference/mixed.json"))["cases"]}
fits = {name: plain(Study(cases[name]).fit(mpf(cases[name]["lmer"]["theta"])**2)) for name in WANTED}
print(json.dumps({"made_by": "mpmath %s, 50 digits" % mpmath.__version__, "fits": fits}, indent=1))
