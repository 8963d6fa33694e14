"""Gates on quantiles, shared by the scripts of this folder."""

import sys


def packages(*names):
    """Imports the packages, or leaves with 77 and the one command."""
    import importlib

    found = []
    for name in names:
        try:
            found.append(importlib.import_module(name))
        except ImportError as missing:
            print(f"missing Python package: {missing.name} (pip install -r requirements.txt)")
            sys.exit(77)
    return found


def judge(gates, differences, least):
    """Compares the median, the 99 % quantile and the largest of every difference with its gate, prints them and ends
    the program. A name without a gate, a gate without a name, a difference that is no number, fewer states than
    `least`: each fails."""
    import numpy as np

    failed = False
    for name in sorted(set(gates) ^ set(differences)):
        print(f"FAIL {name}: {'no differences' if name in gates else 'no gate'}")
        failed = True
    for name, gate in gates.items():
        if name not in differences:
            continue
        size = np.abs(np.asarray(differences[name], dtype=float))
        if len(size) < least or not np.all(np.isfinite(size)):
            print(f"FAIL {name}: {len(size)} states (at least {least}), {np.sum(~np.isfinite(size))} of them no number")
            failed = True
            continue
        found = [np.quantile(size, 0.5), np.quantile(size, 0.99), size.max()]
        holds = all(f <= g for f, g in zip(found, gate))
        failed |= not holds
        words = ", ".join(f"{n} {f:.2e} (gate {g:.0e})" for n, f, g in zip(("median", "99 %", "largest"), found, gate))
        print(f"{'ok  ' if holds else 'FAIL'} {name}: {len(size)} states, {words}")
    sys.exit(1 if failed else 0)
