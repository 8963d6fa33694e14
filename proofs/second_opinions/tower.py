"""Merkel's integral by the adaptive quadrature of scipy on saturation enthalpies of PsychroLib.

Usage: cargo run -q -p drycoil-proofs --example second_opinion_states -- tower 1500 7 | python3 tower.py
Leaves with 0 when every quantile gate holds, 1 when one does not, 77 when the packages are missing.
"""

import sys

from gates import judge, packages

np, pd, integrate, psychrolib = packages("numpy", "pandas", "scipy.integrate", "psychrolib")

GATES = {
    # Quadrature to 1e-10 on both sides; a pinch close to saturation magnifies the last digits of the enthalpies.
    "KaV/L, relative": (1e-11, 1e-9, 1e-8),
    # 1 where only one of the two refuses an operating line that crosses saturation.
    "refusals that differ": (0.0, 0.0, 0.0),
}
WATER = 4186.8


def main():
    d = pd.read_csv(sys.stdin)
    psychrolib.SetUnitSystem(psychrolib.SI)
    h_s = lambda t, p: psychrolib.GetSatAirEnthalpy(t, p)
    sizes, same, mine = [], [], []
    for s in d.itertuples():
        h_in = h_s(s.wet_bulb_c, s.p_pa)
        force = lambda t: h_s(t, s.p_pa) - h_in - s.water_over_air * WATER * (t - s.cold_c)
        least = min(force(t) for t in np.linspace(s.cold_c, s.hot_c, 400))
        # A pinch within 20 J/kg of saturation may fall on either side of the grid.
        if abs(least) < 20.0:
            continue
        same.append(float((least < 0.0) != bool(s.refused)))
        if least > 0.0 and not s.refused:
            sizes.append(integrate.quad(lambda t: WATER / force(t), s.cold_c, s.hot_c, epsrel=1e-10, limit=200)[0])
            mine.append(s.kav_over_l)
    judge(GATES, {"KaV/L, relative": np.array(mine) / np.array(sizes) - 1.0, "refusals that differ": same}, 500)


main()
