"""Exchanger effectiveness, log-mean difference and annular fins by the general-purpose libraries ht and scipy.

Usage: cargo run -q -p drycoil-proofs --example second_opinion_states -- heat_exchange 5000 3 | python3 heat_exchange.py
Leaves with 0 when every quantile gate holds, 1 when one does not, 77 when the packages are missing.
"""

import sys

from gates import judge, packages

np, pd, ht, special = packages("numpy", "pandas", "ht", "scipy.special")

# Closed forms and a series summed to rounding on both sides.
CLOSED = (1e-12, 1e-10, 1e-9)
GATES = {
    "counterflow": CLOSED,
    "parallel": CLOSED,
    "smaller mixed": CLOSED,
    "larger mixed": CLOSED,
    "one shell pass": CLOSED,
    # The library integrates the exact relation numerically.
    "both unmixed": (1e-9, 1e-7, 1e-6),
    # At NTU 8 and ratio 1 an effectiveness in its last bits moves the NTU.
    "transfer units again, relative": (1e-11, 1e-8, 1e-7),
    "log mean, relative": (1e-12, 1e-9, 1e-9),
    "annular fin": (1e-11, 1e-9, 1e-8),
}


def main():
    d = pd.read_csv(sys.stdin)

    def library(subtype, rows):
        return np.array([ht.effectiveness_from_NTU(NTU=s.ntu, Cr=s.ratio, subtype=subtype) for s in rows.itertuples()])

    few = d.head(1500)
    m = np.sqrt(2.0 * d.film / (d.conductivity * d.thickness))
    a, b = m * d.r1, m * d.r2
    i, k = special.iv, special.kv
    fin = (
        2.0 * d.r1 / (m * (d.r2**2 - d.r1**2))
        * (k(1, a) * i(1, b) - i(1, a) * k(1, b))
        / (i(0, a) * k(1, b) + k(0, a) * i(1, b))
    )
    mean = [ht.LMTD(Thi=200.0 + s.dt1, Tho=100.0 + s.dt2, Tci=100.0, Tco=200.0) for s in d.itertuples()]
    judge(
        GATES,
        {
            "counterflow": d.counterflow - library("counterflow", d),
            "parallel": d.parallel - library("parallel", d),
            "smaller mixed": d.smaller_mixed - library("crossflow, mixed Cmin", d),
            "larger mixed": d.larger_mixed - library("crossflow, mixed Cmax", d),
            "one shell pass": d.one_shell - library("S&T", d),
            "both unmixed": few.both_unmixed - library("crossflow", few),
            "transfer units again, relative": d.ntu_again / d.ntu - 1.0,
            "log mean, relative": d.log_mean / np.array(mean) - 1.0,
            "annular fin": d.fin - fin,
        },
        1000,
    )


main()
