"""A whole room over a week by the stiff integrator of the general-purpose library scipy.

The matrices of the full network, a week of hourly inputs and the program's own solution are read; massless nodes are
eliminated here.

Usage: cargo run -q -p drycoil-rooms --example dump_room | python3 room_week.py
Leaves with 0 when every quantile gate holds, 1 when one does not, 77 when the packages are missing.
"""

import json
import sys

from gates import judge, packages

np, integrate = packages("numpy", "scipy.integrate")

# The integrator runs at 1e-9; the program steps exactly.
GATES = {
    "air temperature K": (1e-9, 1e-8, 1e-8),
    "mean radiant temperature K": (1e-9, 1e-8, 1e-8),
}


def main():
    d = json.load(sys.stdin)
    capacity, conductance = np.array(d["capacity_j_per_k"]), np.array(d["conductance_w_per_k"])
    inputs, given = np.array(d["inputs"]), np.array(d["input"])
    solution = np.array(d["solution_air_and_mean_radiant_c"])
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
    x = np.full(len(held), d["start_c"])
    found = []
    for k in range(1, len(inputs)):

        def at(t, k=k):
            # Temperatures on straight lines, heat constant over the hour that ends.
            u = inputs[k].copy()
            u[:lines] = inputs[k - 1, :lines] + (inputs[k, :lines] - inputs[k - 1, :lines]) * t / step
            return u

        r = integrate.solve_ivp(
            lambda t, x: a @ x + b @ at(t), (0.0, step), x, method="Radau", jac=a, rtol=1e-9, atol=1e-9
        )
        if not r.success:
            print(f"FAIL the integrator stopped in hour {k}: {r.message}")
            sys.exit(1)
        x = r.y[:, -1]
        nodes = np.empty(len(c))
        nodes[held], nodes[massless] = x, from_held @ x + from_inputs @ at(step)
        found.append((nodes[d["air_node"]], nodes[d["mean_radiant_node"]]))
    air, radiant = np.array(found).T
    judge(
        GATES,
        {"air temperature K": solution[1:, 0] - air, "mean radiant temperature K": solution[1:, 1] - radiant},
        168,
    )


main()
