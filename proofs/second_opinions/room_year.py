"""A room of the demo over a whole year by the integrator LSODA of the general-purpose library scipy, on the network with
every cell of its walls, against the reduced model that the year steps: weather, sun, gains, infiltration, ideal heating and
cooling, all found here anew from the integrator's own temperatures.

Twice: with infiltration, heating and cooling constant over each step, as the year has them, and with infiltration that
follows the temperature of the room within the step.

Usage: cargo run -q -p drycoil-year --example room_year | python3 room_year.py
Leaves with 0 when every gate holds, 1 when one does not, 77 when the packages are missing.
"""

import json
import sys

from gates import judge, packages

np, integrate = packages("numpy", "scipy.integrate")

# A reduced room is promised within 0.02 K at its worst; half and a quarter of it for most steps. Heating and cooling of the
# year are promised within 0.2 % of their sum each. How infiltration runs within a step of 15 min is a matter of the step,
# for which 0.05 K is promised when a step is halved. The integrator runs at 1e-6.
STEADY = "infiltration constant over the step"
FOLLOWS = "infiltration within the step"
GATES = {
    f"air temperature K, {STEADY}": (5e-3, 1e-2, 2e-2),
    f"heating and cooling over their sum, {STEADY}": (2e-3, 2e-3, 2e-3),
    f"air temperature K, {FOLLOWS}": (5e-2, 5e-2, 5e-2),
    f"heating and cooling over their sum, {FOLLOWS}": (2e-3, 2e-3, 2e-3),
}


class Network:
    """The equations with massless nodes eliminated: C x' = -K x + B u becomes x' = a x + b u. C may have
    entries off its diagonal."""

    def __init__(self, d, leak):
        c, k, b = (np.array(d[n]) for n in ("capacity_j_per_k", "conductance_w_per_k", "input"))
        self.air_heat = d["air_heat_input"]
        air = d["air_node"]
        k = k.copy()
        k[air, air] += leak
        has = np.abs(c).sum(axis=1) > 0.0
        held, massless = np.where(has)[0], np.where(~has)[0]
        rest = np.linalg.solve(
            k[np.ix_(massless, massless)], np.hstack([-k[np.ix_(massless, held)], b[massless]])
        )
        from_held, from_inputs = rest[:, : len(held)], rest[:, len(held) :]
        mass = c[np.ix_(held, held)]
        self.a = np.linalg.solve(mass, -(k[np.ix_(held, held)] + k[np.ix_(held, massless)] @ from_held))
        self.b = np.linalg.solve(mass, b[held] - k[np.ix_(held, massless)] @ from_inputs)
        self.place = list(held).index(air)

    def over_step(self, x, start, slope, step):
        """State at the end of a step under a drive that runs straight."""
        a = self.a
        y, told = integrate.odeint(
            lambda x, t: a @ x + start + slope * t,
            x,
            (0.0, step),
            Dfun=lambda x, t: a,
            rtol=1e-6,
            atol=1e-6,
            full_output=True,
        )
        if told["message"] != "Integration successful.":
            print(f"FAIL the integrator stopped: {told['message']}")
            sys.exit(1)
        return y[-1]


def year(d, continuous):
    """Air temperature at the end of every step and heating and cooling during it."""
    inputs, step, lines = np.array(d["inputs"]), d["step_s"], d["temperature_inputs"]
    controls = np.array(d["heating_set_cooling_set_heating_most_cooling_most_leak_outdoor"])
    leak = controls[0, 4]
    assert np.all(controls[:, 4] == leak)
    rest = Network(d, 0.0)
    network = Network(d, leak if continuous else 0.0)
    place, heat = network.place, network.b[:, network.air_heat]
    x = np.linalg.solve(rest.a, -rest.b @ inputs[0])
    nothing = np.zeros_like(x)
    # What 1 W to the air over a step does: the equations are linear.
    per_watt = network.over_step(nothing, heat, nothing, step)
    h = per_watt[place]
    found = np.empty((len(controls), 2))
    for k, (warm, cool, most_heating, most_cooling, g, outdoor) in enumerate(controls):
        end = inputs[k + 1]
        before = end.copy()
        before[:lines] = inputs[k, :lines]
        drive = network.b @ before
        slope = (network.b @ end - drive) / step
        if continuous:
            drive = drive + heat * (g * outdoor)
        x = network.over_step(x, drive, slope, step)
        free = x[place]
        # Infiltration at the temperature of the end of the step: T = free + h (g (outdoor - T) + q).
        g = 0.0 if continuous else g
        drifting = (free + h * g * outdoor) / (1.0 + h * g)
        q = 0.0
        for set_c, least, most in ((warm, 0.0, most_heating), (cool, -most_cooling, 0.0)):
            if (drifting < warm and set_c == warm) or (drifting > cool and set_c == cool):
                q = min(max((set_c - free) / h - g * (outdoor - set_c), least), most)
        air = (free + h * (g * outdoor + q)) / (1.0 + h * g)
        x = x + per_watt * (q + g * (outdoor - air))
        found[k] = air, q
    return found


def main():
    d = json.load(sys.stdin)
    mine = np.array(d["air_c_and_hvac_w"])
    assert len(mine) * d["step_s"] == 8760 * 3600.0
    differences = {}
    for words, continuous in ((STEADY, False), (FOLLOWS, True)):
        exact = year(d, continuous)
        total = np.abs(exact[:, 1]).sum()
        heating, cooling = ([q[q > 0.0].sum() for q in (sign * mine[:, 1], sign * exact[:, 1])] for sign in (1, -1))
        print(f"{words}: heating {heating[1] * d['step_s'] / 3.6e6:.1f}, cooling {cooling[1] * d['step_s'] / 3.6e6:.1f} kWh")
        # A room that needs neither would prove nothing.
        assert min(heating + cooling) > 0.05 * total
        differences[f"air temperature K, {words}"] = mine[:, 0] - exact[:, 0]
        differences[f"heating and cooling over their sum, {words}"] = [
            (mine - exact) / total for mine, exact in (heating, cooling)
        ]
    judge(GATES, differences, 2)


main()
