"""Times the main model as a general-purpose library fits it, for the ratio that the benchmark prints.

    python3 mixed_model_reference.py CELLS.csv [--variational]

CELLS.csv has the columns tray, unit, k, n: one line a cell, as `cargo bench --bench budgets` writes it.

The same model on the same data: k ~ Binomial(n, p), logit p = tray + u(unit), u ~ Normal(0, sigma^2), one effect of
each tray, maximum likelihood. The integral over u is taken by adaptive Gauss-Hermite quadrature with 25 nodes, all
units at once in numpy, with the exact gradient; scipy.optimize (L-BFGS-B) finds the maximum. scipy has no such model
ready to use, so the likelihood is written here and the library gives the arithmetic and the optimiser.

With --variational also statsmodels' BinomialBayesMixedGLM.fit_vb: the nearest model that a library has ready. It is not
the same: it takes every kernel as a line, puts weak priors on all terms and approximates instead of integrating.

Prints one line for each fit: name, seconds, log-likelihood (nan where it has none), sigma.
"""

import csv
import sys
import time

import numpy as np
from scipy.optimize import minimize
from scipy.special import expit, gammaln, logsumexp

NODES = 25


def read(path):
    with open(path, newline="") as file:
        rows = [[int(row[name]) for name in ("tray", "unit", "k", "n")] for row in csv.DictReader(file)]
    return np.array(rows, dtype=np.int64).T


class Likelihood:
    """The marginal log-likelihood; parameters are one intercept a tray and the logarithm of sigma."""

    def __init__(self, tray, unit, k, n):
        self.tray, self.unit = tray, unit
        self.k, self.n = k.astype(float), n.astype(float)
        self.trays, self.units = int(tray.max()) + 1, int(unit.max()) + 1
        self.mode = np.zeros(self.units)
        points, weights = np.polynomial.hermite.hermgauss(NODES)
        self.points = points * np.sqrt(2.0)
        self.log_weights = np.log(weights) + points**2 + 0.5 * np.log(2.0)
        self.constant = (gammaln(self.n + 1) - gammaln(self.k + 1) - gammaln(self.n - self.k + 1)).sum()

    def by_unit(self, values):
        return np.bincount(self.unit, values, minlength=self.units)

    def find_modes(self, eta, sigma):
        """Newton's steps to the mode of every unit, on the scale of u / sigma."""
        z = self.mode
        for _ in range(50):
            p = expit(eta + sigma * z[self.unit])
            slope = sigma * self.by_unit(self.k - self.n * p) - z
            curve = sigma**2 * self.by_unit(self.n * p * (1.0 - p)) + 1.0
            step = slope / curve
            z = z + step
            if np.abs(step).max() < 1e-8:
                break
        self.mode = z
        return z, 1.0 / np.sqrt(curve)

    def value_and_gradient(self, at):
        sigma = np.exp(at[-1])
        eta = at[self.tray]
        z, scale = self.find_modes(eta, sigma)
        nodes = z[:, None] + scale[:, None] * self.points
        logit = eta[:, None] + sigma * nodes[self.unit]
        log_p = self.k[:, None] * logit - self.n[:, None] * np.logaddexp(0.0, logit)
        inside = np.zeros((self.units, NODES))
        np.add.at(inside, self.unit, log_p)
        inside += self.log_weights - 0.5 * nodes**2 - 0.5 * np.log(2.0 * np.pi) + np.log(scale)[:, None]
        units = logsumexp(inside, axis=1)
        weight = np.exp(inside - units[:, None])
        slope = self.k[:, None] - self.n[:, None] * expit(logit)
        weighted = weight[self.unit] * slope
        gradient = np.empty(self.trays + 1)
        gradient[:-1] = np.bincount(self.tray, weighted.sum(axis=1), minlength=self.trays)
        gradient[-1] = sigma * (weighted * nodes[self.unit]).sum()
        return -(units.sum() + self.constant), -gradient

    def fit(self):
        share = (self.k.sum() + 0.5) / (self.n.sum() + 1.0)
        start = np.full(self.trays + 1, np.log(share / (1.0 - share)))
        start[-1] = np.log(0.5)
        options = {"maxiter": 2000, "maxfun": 5000, "ftol": 1e-13, "gtol": 1e-6}
        found = minimize(self.value_and_gradient, start, jac=True, method="L-BFGS-B", options=options)
        return -found.fun, float(np.exp(found.x[-1]))


def variational(tray, unit, k, n):
    from scipy import sparse
    from statsmodels.genmod.bayes_mixed_glm import BinomialBayesMixedGLM

    kernels = np.repeat(np.arange(len(k)), n)
    place = np.arange(len(kernels)) - np.repeat(np.cumsum(n) - n, n)
    germinated = (place < k[kernels]).astype(float)
    trays = np.zeros((len(kernels), int(tray.max()) + 1))
    trays[np.arange(len(kernels)), tray[kernels]] = 1.0
    units = int(unit.max()) + 1
    of_unit = sparse.csr_matrix(
        (np.ones(len(kernels)), (np.arange(len(kernels)), unit[kernels])), (len(kernels), units)
    )
    model = BinomialBayesMixedGLM(germinated, trays, of_unit, np.zeros(units, dtype=int))
    return float(np.exp(model.fit_vb().vcp_mean[0]))


def main():
    cells = read(sys.argv[1])
    begin = time.perf_counter()
    log_likelihood, sigma = Likelihood(*cells).fit()
    print("scipy", time.perf_counter() - begin, log_likelihood, sigma)
    if "--variational" in sys.argv[2:]:
        begin = time.perf_counter()
        sigma = variational(*cells)
        print("statsmodels", time.perf_counter() - begin, "nan", sigma)


main()
