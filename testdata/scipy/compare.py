"""Time the fits of package fit against SciPy's curve_fit and leastsq: same strips,
same model, same parameters, same start, one core, in one run.

    python3 compare.py            run both sides and print the table
    python3 compare.py --strips   write strips.csv again (fixed seed)

Both sides minimise sum(((model - density) / 0.01)^2) over the parameters of
fit/bend.go, without priors and without readings of the base. SciPy gets the
analytic Jacobian. It is timed with start values and bounds at hand; the Go side
finds its own within the time. leastsq is MINPACK's lmder alone, without the checks
and the covariance of curve_fit; the Go side is timed with its covariance. Times
are of the processor, since the clock counts whatever else runs on the machine.
Rounds of the two sides alternate, so that what load does to caches meets both; the
figures are medians over the rounds.
"""

import csv
import json
import os
import pathlib
import platform
import random
import re
import statistics
import subprocess
import sys
import tempfile
import time
import warnings

# Before NumPy is loaded: one thread, and kernels for the machine at hand.
for name in ("OPENBLAS_CORETYPE", "OPENBLAS_L2_SIZE"):
    os.environ.pop(name, None)
os.environ["OPENBLAS_NUM_THREADS"] = "1"

import numpy as np  # noqa: E402
import scipy  # noqa: E402
from scipy.optimize import OptimizeWarning, curve_fit, leastsq  # noqa: E402

HERE = pathlib.Path(__file__).resolve().parent
STRIPS = HERE / "strips.csv"
SIGMA = 0.01
ROUNDS = 7
SAME = 1e-6  # relative difference of the sums of squares at one minimum


def softplus(u, w):
    """Return w*ln(1 + exp(u/w)) and its derivative by u, as fit/bend.go does."""
    e = np.exp(-np.abs(u) / w)
    return np.maximum(u, 0) + w * np.log1p(e), np.where(u < 0, e, 1) / (1 + e)


def height(u, w):
    """Return the first of softplus alone."""
    return np.maximum(u, 0) + w * np.log1p(np.exp(-np.abs(u) / w))


# The models are in units of SIGMA, as the residuals of fit/bendfit.go are. A
# width that a step takes below zero counts as very small, as there.
LEAST = 1e-6


def toe_line(x, base, ln_gradient, toe, toe_width):
    g = np.exp(ln_gradient) / SIGMA
    return base / SIGMA + g * height(x - toe, max(toe_width, LEAST))


def toe_line_jac(x, base, ln_gradient, toe, toe_width):
    g, a = np.exp(ln_gradient) / SIGMA, max(toe_width, LEAST)
    u = x - toe
    s, slope = softplus(u, a)
    jac = np.empty((x.size, 4))
    jac[:, 0] = 1 / SIGMA
    jac[:, 1] = g * s
    jac[:, 2] = -g * slope
    jac[:, 3] = g / a * (s - u * slope)
    return jac


def toe_shoulder(x, base, ln_gradient, toe, toe_width, ln_span, shoulder_width):
    g = np.exp(ln_gradient) / SIGMA
    u = x - toe
    v = u - np.exp(ln_span)
    return base / SIGMA + g * (height(u, max(toe_width, LEAST)) - height(v, max(shoulder_width, LEAST)))


def toe_shoulder_jac(x, base, ln_gradient, toe, toe_width, ln_span, shoulder_width):
    g, a, b = np.exp(ln_gradient) / SIGMA, max(toe_width, LEAST), max(shoulder_width, LEAST)
    span = np.exp(ln_span)
    u = x - toe
    v = u - span
    s, slope = softplus(u, a)
    top, top_slope = softplus(v, b)
    jac = np.empty((x.size, 6))
    jac[:, 0] = 1 / SIGMA
    jac[:, 1] = g * (s - top)
    jac[:, 2] = -g * (slope - top_slope)
    jac[:, 3] = g / a * (s - u * slope)
    jac[:, 4] = g * span * top_slope
    jac[:, 5] = -g / b * (top - v * top_slope)
    return jac


FORMS = {"toe-line": (toe_line, toe_line_jac, 4), "toe-shoulder": (toe_shoulder, toe_shoulder_jac, 6)}


def start(x, y, form):
    """Return the start values of fit/bendfit.go, BendData.start."""
    width = 1.5 * (x[-1] - x[0]) / (x.size - 1)
    base, top = y.min(), y.max()
    gradients = (y[4:] - y[:-4]) / (x[4:] - x[:-4])
    i = int(np.argmax(gradients))
    gradient = gradients[i]
    at, height_there = (x[i] + x[i + 4]) / 2, (y[i] + y[i + 4]) / 2
    p = [base, np.log(gradient), at - (height_there - base) / gradient, width]
    if form == "toe-shoulder":
        p += [np.log(max(top - base, 0.1) / gradient), width]
    return p


def bounds(x, form):
    """Return the bounds of FitBend."""
    reach = x[-1] - x[0]
    step = reach / (x.size - 1)
    n = FORMS[form][2]
    lower = [-np.inf, np.log(1e-3), x[0] - 2 * reach, 0.15 * step, np.log(0.5 * step), 0.15 * step]
    upper = [np.inf, np.log(1e3), x[-1] + reach, reach, np.log(4 * reach), reach]
    return lower[:n], upper[:n]


def write_strips():
    """Write 100 strips of each form: 21 readings 0.15 apart, noise 0.01, rounded."""
    rnd = random.Random(1993)
    x = [round(-3 + 0.15 * i, 2) for i in range(21)]
    with STRIPS.open("w", newline="") as file:
        out = csv.writer(file, lineterminator="\n")
        out.writerow(["film"] + [f"{v:.2f}" for v in x])
        for i in range(200):
            film = ("toe-line", "toe-shoulder")[i % 2]
            p = [rnd.uniform(0.08, 0.30), np.log(rnd.uniform(0.4, 1.0)), rnd.uniform(-2.5, -2.0), rnd.uniform(0.08, 0.25)]
            if film == "toe-shoulder":
                p += [np.log(rnd.uniform(1.0, 1.5)), rnd.uniform(0.10, 0.30)]
            density = FORMS[film][0](np.array(x), *p) * SIGMA
            out.writerow([film] + [f"{d + rnd.gauss(0, SIGMA):.2f}" for d in density])


def read_strips():
    """Return log H and the densities by film."""
    with STRIPS.open(newline="") as file:
        rows = list(csv.reader(file))
    films = {}
    for row in rows[1:]:
        films.setdefault(row[0], []).append(np.array(row[1:], dtype=float))
    return np.array(rows[0][1:], dtype=float), films


METHODS = ("leastsq", "lm", "trf", "trf in bounds")


def scipy_call(x, y, form, method):
    """Return a function that makes one fit, with everything it needs prepared."""
    model, jac, _ = FORMS[form]
    scaled = y / SIGMA
    if method == "leastsq":
        return leastsq_call(lambda p: model(x, *p) - scaled, start(x, y, form), lambda p: jac(x, *p))
    keys = {"p0": start(x, y, form), "jac": jac, "method": method.split()[0]}
    if method.endswith("bounds"):
        keys["bounds"] = bounds(x, form)
        keys["p0"] = np.clip(keys["p0"], *keys["bounds"])
    return lambda **more: curve_fit(model, x, scaled, **keys, **more)


def leastsq_call(residuals, p0, jac):
    """Return a function that makes one fit by leastsq and fails as curve_fit does."""

    def call(**more):
        end = leastsq(residuals, p0, Dfun=jac, **more)
        if end[-1] not in (1, 2, 3, 4):
            raise RuntimeError(f"leastsq ended with {end[-1]}")
        return end

    return call


def scipy_ends(calls):
    """Return sum of squares and evaluations of each fit, None where it failed."""
    ends = []
    for call in calls:
        try:
            _, _, info, _, _ = call(full_output=True)
            ends.append((float(info["fvec"] @ info["fvec"]), info["nfev"]))
        except RuntimeError:  # the limit of evaluations
            ends.append(None)
    return ends


def scipy_time(calls):
    """Return the mean time of the processor a fit in microseconds."""
    began = time.process_time()
    for call in calls:
        try:
            call()
        except RuntimeError:
            pass
    return (time.process_time() - began) / len(calls) * 1e6


def run_go(command, **env):
    """Run a command in the folder of package fit and return its output."""
    done = subprocess.run(command, cwd=HERE.parent.parent / "fit", env=os.environ | env, capture_output=True, text=True)
    if done.returncode:
        sys.exit(done.stdout + done.stderr)
    return done.stdout


def go_round(binary, path):
    """Run the benchmark once; return microseconds a fit by case."""
    command = [binary, "-test.run", "xxx", "-test.bench", "AgainstSciPy", "-test.benchtime", "30x"]
    out = run_go(command, GOMAXPROCS="1", SENSITO_FITS=str(path))
    return {m[1]: float(m[2]) for m in re.finditer(r"AgainstSciPy/(\S+?)(?:-\d+)?\s.*?([\d.]+) us/fit", out)}


def compare(ours, theirs):
    """Say where the two sides end: strips at one minimum, SciPy higher, SciPy lower, failed."""
    same = higher = lower = failed = 0
    for a, b in zip(ours, theirs, strict=True):
        if b is None:
            failed += 1
        elif abs(a["rss"] - b[0]) <= SAME * min(a["rss"], b[0]):
            same += 1
        elif b[0] > a["rss"]:
            higher += 1
        else:
            lower += 1
    return same, higher, lower, failed


def main():
    if sys.argv[1:] == ["--strips"]:
        return write_strips()
    warnings.simplefilter("ignore", OptimizeWarning)  # covariance unknown
    warnings.filterwarnings("ignore", "Number of calls")  # counted as none
    x, films = read_strips()
    cases = [(f"form={form}/film={film}", form, film) for form in FORMS for film in films]
    calls = {(case, m): [scipy_call(x, y, form, m) for y in films[film]] for case, form, film in cases for m in METHODS}
    theirs = {key: scipy_ends(c) for key, c in calls.items()}  # and warms up
    with tempfile.TemporaryDirectory() as folder:
        path = pathlib.Path(folder) / "fits.json"
        binary = pathlib.Path(folder) / "fit.test"
        run_go(["go", "test", "-c", "-o", binary, "."])
        load = os.getloadavg()[0]
        go_times, scipy_times = [], []
        for _ in range(ROUNDS):
            go_times.append(go_round(binary, path))
            scipy_times.append({key: scipy_time(c) for key, c in calls.items()})
        ours = json.loads(path.read_text())

    version = subprocess.run(["go", "version"], capture_output=True, text=True).stdout.split()[2]
    print(f"{version}, SciPy {scipy.__version__}, NumPy {np.__version__}, Python {platform.python_version()};"
          f" medians of {ROUNDS} rounds, load {load:.1f} before\n")
    print("                                                 CPU a fit, us        evaluations     strips whose RSS, by SciPy, is")
    print("film          form fitted   SciPy method       Go   SciPy  ratio    Go  SciPy   same higher lower none")
    for case, form, film in cases:
        go = statistics.median(t[case] for t in go_times)
        evals = statistics.mean(e["evals"] for e in ours[case])
        for m in METHODS:
            them = statistics.median(t[case, m] for t in scipy_times)
            nfev = [e[1] for e in theirs[case, m] if e]
            counts = compare(ours[case], theirs[case, m])
            print(f"{film:13} {form:13} {m:13} {go:7.1f} {them:7.0f} {them / go:6.0f} {evals:5.1f} {statistics.mean(nfev):6.1f}"
                  + "  {:5d} {:6d} {:5d} {:4d}".format(*counts))
    for case, form, film in cases:
        print(f"Go, {form} on {film}: {sum(e['converged'] for e in ours[case])} of {len(ours[case])} converged,"
              f" {sum(e['at_bound'] for e in ours[case])} at a bound")


if __name__ == "__main__":
    main()
