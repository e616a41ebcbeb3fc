"""Answers with SciPy what test TestAgainstSciPy asks: one JSON object a line in, one list of numbers a line out."""
import json
import sys

import numpy as np
from scipy import integrate, special, stats


def answer(q):
    kind = q["kind"]
    if kind == "proportion":
        result = stats.binomtest(q["r"], q["n"])
        out = []
        for method in ("exact", "wilson", "wilsoncc"):
            ci = result.proportion_ci(0.95, method)
            out += [ci.low, ci.high]
        return out + [stats.beta.ppf(0.025, q["r"] + 0.5, q["n"] - q["r"] + 0.5), stats.binom.cdf(q["r"], q["n"], 0.3), stats.binom.sf(q["r"] - 1, q["n"], 0.3)]
    if kind == "table":
        table = [[q["a"], q["b"]], [q["c"], q["d"]]]
        plain = stats.chi2_contingency(table, correction=False)
        yates = stats.chi2_contingency(table, correction=True)
        sides = [stats.fisher_exact(table, s)[1] for s in ("two-sided", "less", "greater")]
        odds = stats.contingency.odds_ratio(np.array(table), kind="conditional")
        ci = odds.confidence_interval(0.95)
        return sides + [plain[0], plain[1], yates[0], yates[1], odds.statistic, ci.low, ci.high]
    if kind == "samples":
        x, y = np.array(q["x"]), np.array(q["y"])
        n = min(len(x), len(y))
        a, b = x[:n], y[:n]
        paired, welch, pooled = stats.ttest_rel(a, b), stats.ttest_ind(x, y, equal_var=False), stats.ttest_ind(x, y)
        u = stats.mannwhitneyu(x, y, method="exact" if q["exact_u"] else "asymptotic")
        w = stats.wilcoxon(a, b, alternative="greater", mode="exact" if q["exact_w"] else "approx", correction=True)
        r, tau, rho = stats.pearsonr(a, b), stats.kendalltau(a, b), stats.spearmanr(a, b)
        ci = r.confidence_interval(0.95)
        return [paired.statistic, paired.pvalue, welch.statistic, welch.pvalue, pooled.statistic, pooled.pvalue,
                u.statistic, u.pvalue, w.statistic, w.pvalue, r.statistic, r.pvalue, ci.low, ci.high, tau.correlation, tau.pvalue, rho.correlation]
    if kind == "distribution":
        p, a, b, k = q["p"], q["a"], q["b"], q["k"]
        return [stats.norm.ppf(p), stats.t.ppf(p, np.ceil(a)), stats.t.sf(b, a), stats.chi2.ppf(p, a), stats.chi2.sf(b, a), stats.f.sf(b, a, 7), stats.beta.ppf(p, a, b), stats.beta.cdf(p, a, b), special.gammaln(a),
                stats.poisson.cdf(k, a), stats.geom.cdf(k + 1, p), stats.hypergeom.pmf(min(k, 5), 30, 12, 9), stats.betabinom.pmf(k, k + 3, a, b)]
    if kind == "greater":
        first, second = stats.beta(q["a"], q["b"]), stats.beta(q["c"], q["d"])
        return [integrate.quad(lambda x: first.pdf(x) * second.cdf(x), 0, 1, points=[first.mean(), second.mean()], epsabs=1e-13, limit=500)[0]]
    if kind == "unit":
        def f(t):
            return stats.binom.pmf(q["r"], q["n"], special.expit(t)) * stats.norm.pdf(t, q["mu"], q["sigma"])
        centre = special.logit((q["r"] + 0.5) / (q["n"] + 1))
        low, high = min(centre, q["mu"]) - 12 * q["sigma"], max(centre, q["mu"]) + 12 * q["sigma"]
        return [np.log(integrate.quad(f, low, high, points=[centre, q["mu"]], epsabs=0, epsrel=1e-11, limit=2000)[0])]
    if kind == "looks":
        k = np.arange(1, q["k"] + 1)
        covariance = np.sqrt(np.minimum.outer(k, k) / np.maximum.outer(k, k))
        inside = stats.multivariate_normal(np.zeros(q["k"]), covariance)
        # The chance to stay within −z … z at every look, by inclusion and exclusion over the lower ends.
        total = 0.0
        for signs in range(1 << q["k"]):
            ends = [q["z"] if signs >> i & 1 == 0 else -q["z"] for i in range(q["k"])]
            total += (-1) ** bin(signs).count("1") * inside.cdf(ends)
        return [1 - total]
    raise ValueError(kind)


for line in sys.stdin:
    print(json.dumps([float(x) for x in answer(json.loads(line))]))
