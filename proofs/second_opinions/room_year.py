"""A room of the demo over a whole year: its reduced model against the stiff integrator of the general-purpose library scipy
on the full network, under the same weather, sun, gains, heating and cooling.

Usage: cargo run -q -p drycoil-year --example room_year | python3 room_year.py
Leaves with 0 when the air temperature stays within the bound of the reduced model and every quantile gate holds, 1 when it
does not, 77 when the packages are missing.
"""

import json
import sys

from gates import judge, packages

np, integrate = packages("numpy", "scipy.integrate")

# The bar of a reduced room is 0.02 K at its worst; the integrator runs at 1e-6.
GATES = {"air temperature K": (5e-3, 1e-2, 2e-2)}


def main():
    d = json.load(sys.stdin)
    capacity, conductance = np.array(d["capacity_j_per_k"]), np.array(d["conductance_w_per_k"])
    inputs, given = np.array(d["inputs"]), np.array(d["input"])
    mine = np.array(d["air_c"][0])
    lines, step = d["temperature_inputs"], d["step_s"]
    c = np.diag(capacity)
    held, massless = np.where(c > 0)[0], np.where(c == 0)[0]
    # Massless nodes from the others and the inputs.
    from_rest = np.linalg.solve(
        conductance[np.ix_(massless, massless)],
        np.hstack([-conductance[np.ix_(massless, held)], given[massless]]),
    )
    from_held, from_inputs = from_rest[:, : len(held)], from_rest[:, len(held) :]
    a = -(conductance[np.ix_(held, held)] + conductance[np.ix_(held, massless)] @ from_held) / c[held][:, None]
    b = (given[held] - conductance[np.ix_(held, massless)] @ from_inputs) / c[held][:, None]
    place = list(held).index(d["air_node"])
    # Both start at rest under the first inputs.
    x = np.linalg.solve(a, -b @ inputs[0])
    found = []
    for k in range(1, len(inputs)):
        start, end = inputs[k].copy(), b @ inputs[k]
        start[:lines] = inputs[k - 1, :lines]
        start = b @ start
        slope = (end - start) / step
        r = integrate.solve_ivp(
            lambda t, x: a @ x + start + slope * t, (0.0, step), x, method="Radau", jac=a, rtol=1e-6, atol=1e-6
        )
        if not r.success:
            print(f"FAIL the integrator stopped in hour {k}: {r.message}")
            sys.exit(1)
        x = r.y[:, -1]
        found.append(x[place])
    off = mine - np.array(found)
    worst = np.abs(off).max()
    print(f"{'ok  ' if worst <= d['bound_k'] else 'FAIL'} largest error {worst:.2e} K, bound {d['bound_k']:.2e} K")
    if not worst <= d["bound_k"]:
        sys.exit(1)
    judge(GATES, {"air temperature K": off}, 8760)


main()
