"""Friction factors, losses of pipes and properties of water by the general-purpose libraries fluids and CoolProp.

Usage: cargo run -q -p drycoil-proofs --example second_opinion_states -- friction 20000 4 | python3 friction.py
Leaves with 0 when every quantile gate holds, 1 when one does not, 77 when the packages are missing.
"""

import sys

from gates import judge, packages

np, pd, fluids = packages("numpy", "pandas", "fluids")

GATES = {
    # Colebrook's equation solved to rounding on both sides.
    "friction factor, relative": (1e-12, 1e-9, 1e-8),
    "loss, relative": (1e-12, 1e-9, 1e-8),
    # The program's way back from loss to flow, 1e-9 of the loss.
    "flow again, relative": (1e-9, 1e-8, 1e-7),
}


def main():
    d = pd.read_csv(sys.stdin)
    colebrook = fluids.friction.Colebrook
    factor = [
        64.0 / s.reynolds if s.reynolds <= 2300.0 else colebrook(s.reynolds, s.roughness) for s in d.itertuples()
    ]
    losses, keep = [], []
    for s in d.itertuples():
        v = s.flow / (np.pi / 4.0 * s.diameter**2)
        re = fluids.Reynolds(V=v, D=s.diameter, rho=s.density, mu=s.viscosity)
        keep.append(re > 4000.0)
        f = colebrook(re, s.roughness_m / s.diameter)
        k = fluids.K_from_f(fd=f, L=s.length, D=s.diameter) + s.fittings
        losses.append(fluids.dP_from_K(K=k, rho=s.density, V=v))
    keep = np.array(keep)
    judge(
        GATES,
        {
            "friction factor, relative": d.factor / np.array(factor) - 1.0,
            "loss, relative": (d.drop_pa / np.array(losses) - 1.0)[keep],
            "flow again, relative": (d.flow_again / d.flow - 1.0)[keep],
        },
        2000,
    )


main()
