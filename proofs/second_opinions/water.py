"""Properties of liquid water by the general-purpose library CoolProp, at 3 bar.

Usage: cargo run -q -p drycoil-proofs --example second_opinion_states -- water 3000 5 | python3 water.py
Leaves with 0 when every quantile gate holds, 1 when one does not, 77 when the packages are missing.
"""

import sys

from gates import judge, packages

np, pd, _ = packages("numpy", "pandas", "CoolProp")
from CoolProp.CoolProp import PropsSI  # noqa: E402

# The program fits the properties over 0 to 100 degC; the fits' own bounds.
GATES = {
    "density, relative": (1.5e-4, 2e-4, 2e-4),
    "specific heat, relative": (3e-4, 4e-4, 4e-4),
    "viscosity, relative": (3e-4, 5e-4, 5e-4),
    "conductivity, relative": (4e-4, 5e-4, 5e-4),
}


def main():
    d = pd.read_csv(sys.stdin)
    library = {
        key: np.array([PropsSI(key, "T", t + 273.15, "P", 3e5, "Water") for t in d.t_c]) for key in "DCVL"
    }
    judge(
        GATES,
        {
            "density, relative": d.density / library["D"] - 1.0,
            "specific heat, relative": d.specific_heat / library["C"] - 1.0,
            "viscosity, relative": d.viscosity / library["V"] - 1.0,
            "conductivity, relative": d.conductivity / library["L"] - 1.0,
        },
        2000,
    )


main()
