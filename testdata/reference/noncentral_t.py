"""Tails of the noncentral t, and of t with very many degrees of freedom.

Source: integration in 40 digits with mpmath (python3-mpmath of Debian) of
    P(T <= t) = integral of Phi(t s - ncp) f(s),  f the density of sqrt(chi2/df)
for the noncentral t, and the incomplete beta function of mpmath for t.

Writes noncentral_t.json: rows of [t, df, ncp, lower tail, upper tail] and of
[t, df, upper tail]. Run it in this folder: python3 noncentral_t.py
"""
import json

import mpmath as mp

mp.mp.dps = 40


def tails(t, df, ncp):
    t, df, ncp = mp.mpf(t), mp.mpf(df), mp.mpf(ncp)
    norm = mp.log(2) + df / 2 * mp.log(df / 2) - mp.loggamma(df / 2)
    density = lambda s: mp.exp(norm + (df - 1) * mp.log(s) - df * s * s / 2)
    width = 1 / mp.sqrt(2 * df)
    cuts = {mp.mpf(0)} | {max(mp.mpf(0), 1 + k * width) for k in range(-24, 25, 2)}
    cuts |= {ncp / t * (1 + mp.mpf(k) / 10) for k in range(-9, 10, 3)} if t * ncp > 0 else set()
    cuts |= {mp.mpf(k) / 8 for k in range(1, 8)}
    cuts = sorted(cuts) + [1 + 60 * width + 10]
    lower = mp.quad(lambda s: mp.ncdf(t * s - ncp) * density(s), cuts)
    upper = mp.quad(lambda s: mp.ncdf(ncp - t * s) * density(s), cuts)
    assert abs(lower + upper - 1) < mp.mpf(10) ** -18, (t, df, ncp, lower + upper)
    return float(lower), float(upper)


rows = []
for df in (1, 2, 3.5, 5, 10, 24, 120, 2000):
    for ncp in (0, 0.5, 1, 2.8, 6, 15, 40):
        for shift in (-8, -3, -1, 0, 1, 4, 12):
            t = round(ncp + shift * (1 + ncp / (2 * df) ** 0.5), 2)
            lower, upper = tails(t, df, ncp)
            if min(lower, upper) > 1e-16:
                rows.append([t, df, ncp, lower, upper])
many = []
for df in (1e6, 1e7, 3e8, 1e12):
    for t in (0.1, 1, 2, 4, 7):
        x = mp.mpf(df) / (mp.mpf(df) + mp.mpf(t) ** 2)
        # mpmath's incomplete beta is slow here: Simpson-free form by quadrature
        norm = mp.loggamma((mp.mpf(df) + 1) / 2) - mp.loggamma(mp.mpf(df) / 2) - mp.log(mp.mpf(df) * mp.pi) / 2
        f = lambda u: mp.exp(norm - (mp.mpf(df) + 1) / 2 * mp.log1p(u * u / mp.mpf(df)))
        many.append([t, df, float(mp.quad(f, [t, t + 1, t + 2, t + 4, t + 8, t + 20, t + 60]))])
with open("noncentral_t.json", "w") as out:
    json.dump({"made_by": "noncentral_t.py with mpmath " + mp.__version__, "noncentral": rows, "many": many}, out, indent=0)
    out.write("\n")
print(len(rows), len(many))
