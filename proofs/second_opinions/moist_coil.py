"""Drying coils in counterflow by the boundary-value solver of the general-purpose library scipy.

The states on both sides along the coil are integrated with their own equations: sensible and latent transfer to a
surface between air and water (Lewis number one), condensate leaving at the temperature of the surface.

Usage: cargo run -q -p drycoil-proofs --example second_opinion_states -- moist_coil 120 6 | python3 moist_coil.py
Leaves with 0 when every quantile gate holds, 1 when one does not, 77 when the packages are missing.
"""

import io
import sys

from gates import judge, packages

np, pd, integrate, optimize = packages("numpy", "pandas", "scipy.integrate", "scipy.optimize")

GATES = {
    # The program marches with fixed steps and shoots; the kink where the surface begins to be wet costs both some digits.
    "duty, relative": (1e-7, 3e-5, 1e-4),
    "leaving dry bulb K": (1e-6, 3e-4, 1e-3),
    "leaving humidity ratio": (1e-9, 3e-7, 1e-6),
    "leaving water K": (1e-6, 3e-4, 1e-3),
}


def saturation_pressure(t):
    """Saturation pressure over water, Pa (Hyland and Wexler)."""
    k = t + 273.15
    return np.exp(
        -5.8002206e3 / k + 1.3914993 - 4.8640239e-2 * k + 4.1764768e-5 * k**2 - 1.4452093e-8 * k**3 + 6.5459673 * np.log(k)
    )


def saturation(t, p):
    p_ws = saturation_pressure(t)
    return 0.621945 * p_ws / (p - p_ws)


def coil(s):
    """Leaving air and water of one coil: shooting on the leaving water."""

    def rates(_, y):
        t, w, water = y
        cp = 1006.0 + 1860.0 * w

        def surface_balance(x):
            condensed = s.outer / cp * (w - saturation(x, s.p_pa))
            condensed = max(condensed, 0.0)
            vapour = 2501e3 + 1860.0 * t - 4186.0 * x
            return s.outer * (t - x) + condensed * vapour - s.inner * (x - water)

        x = optimize.brentq(surface_balance, min(water, t) - 1.0, max(water, t) + 1.0, xtol=1e-11)
        condensed = max(s.outer / cp * (w - saturation(x, s.p_pa)), 0.0)
        m = s.air_kg_per_s
        # The vapour leaves at the air's own enthalpy: only sensible heat moves the dry bulb.
        return [-s.outer * (t - x) / (m * cp), -condensed / m, -s.inner * (x - water) / s.c_water]

    def run(water_out):
        r = integrate.solve_ivp(rates, (0.0, 1.0), [s.t_c, s.w, water_out], rtol=1e-8, atol=1e-10, max_step=0.02)
        return r.y[:, -1]

    out = optimize.brentq(lambda x: run(x)[2] - s.water_c, s.water_c, s.t_c, xtol=1e-8)
    t, w, _ = run(out)
    if w > saturation(t, s.p_pa):
        # Air that leaves with more than it holds carries fog: the same enthalpy and water, saturated.
        enthalpy = lambda x, v: 1006.0 * x + v * (2501e3 + 1860.0 * x)
        held = lambda x: saturation(x, s.p_pa)
        h = enthalpy(t, w)
        t = optimize.brentq(lambda x: enthalpy(x, held(x)) + (w - held(x)) * 4186.0 * x - h, t, t + 20.0, xtol=1e-11)
        w = held(t)
    return t, w, out, s.c_water * (out - s.water_c)


def main():
    text = sys.stdin.read()
    refused = int(text.rsplit("# refused", 1)[1])
    d = pd.read_csv(io.StringIO(text), comment="#")
    if refused > 0.02 * (refused + len(d)):
        print(f"FAIL the program refuses {refused} of {refused + len(d)} coils of ordinary size")
        sys.exit(1)
    t, w, out, duty = np.array([coil(s) for s in d.itertuples()]).T
    judge(
        GATES,
        {
            "duty, relative": d.duty / duty - 1.0,
            "leaving dry bulb K": d.leaving_t_c - t,
            "leaving humidity ratio": d.leaving_w - w,
            "leaving water K": d.leaving_water_c - out,
        },
        80,
    )


main()
