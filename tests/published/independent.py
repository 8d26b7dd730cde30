#!/usr/bin/env python3
"""Recomputes peroxide strength and the units shown with other people's libraries and compares it with what `checks --json` printed.

The molar mass comes from two element tables that have nothing to do with Tailcomb (molmass, periodictable), the molar
volume from the gas constant (CODATA 2018, exact in the SI), ounce and inch from pint's own definitions, colour
differences from coloraide. Prints each comparison and ends with `N passed, M failed`;
exits with 1 if anything failed or a value was missing.

    cargo run -q -p tailcomb-tests --bin checks -- --json | python tests/published/independent.py
"""

import json
import sys

import molmass
import periodictable
import pint
from coloraide import Color

GAS_CONSTANT = 8.314462618  # J/(mol K)
MOLAR_VOLUME = GAS_CONSTANT * 273.15 / 101_325 * 1000  # L/mol at 273.15 K and 1 atm

# Each table's mass of H2O2 in g/mol, and how far its result may lie from ours, relative. molmass averages over isotopes
# to all decimals; periodictable has today's abridged weights, H 1.008 and O 15.999, which differ by 2 in 100,000.
TABLES = {
    "molmass": (molmass.Formula("H2O2").mass, 5e-6),
    "periodictable": (periodictable.formula("H2O2").mass, 3e-5),
}
VOLUMES = (5, 10, 15, 20, 25, 30, 40)
PERCENT = (3, 6, 9, 12)


def close(ours, theirs, relative, decimals):
    """Within the table's own uncertainty plus half of the last decimal that we print."""
    return abs(ours - theirs) <= relative * abs(theirs) + 0.5 * 10**-decimals


def comparisons(mass):
    """(row of the published checks, value by this molar mass)."""
    percent_per_volume = 2 * mass / (10 * MOLAR_VOLUME)
    yield "strength.molar_mass", mass
    for volumes in VOLUMES:
        yield f"strength.exact.{volumes}", volumes * percent_per_volume
    for percent in PERCENT:
        yield f"strength.inverse.{percent}", percent / percent_per_volume
    # 2 KMnO4 : 5 H2O2, so 1 mL of 0.02 M meets 0.05 mmol.
    titre_mg = 0.05 * mass
    yield "strength.bp.titre", titre_mg
    yield "strength.usp.titre", titre_mg
    yield "strength.bp.oxygen", titre_mg / mass / 2 * MOLAR_VOLUME


def shown_units():
    """(row of the published checks, value by pint)."""
    unit = pint.UnitRegistry()
    yield "unit.ounce", (1 * unit.ounce).to("gram").magnitude
    yield "unit.inch", (1 * unit.inch).to("millimeter").magnitude


def colours():
    """(row of the published checks, value by coloraide): chroma by its LCh, differences by its ΔE*ab of 1976."""
    dark = Color("lab-d65", [22.72, 3.35, 3.85])
    yield "hair.lab.chroma", dark.convert("lch-d65")["chroma"]
    yield "hair.lab.hue", dark.convert("lch-d65")["hue"]
    yield "hair.lab.photo", dark.delta_e(Color("lab-d65", [22.72 + 33.42, 3.35, 3.85]), method="76")
    yield "hair.lab.grey", dark.delta_e(Color("lab-d65", [22.72, 0, 0]), method="76")


def main():
    rows = {row["id"]: row for row in json.load(sys.stdin)["checks"]}
    passed = failed = 0
    sources = [(table, relative, comparisons(mass)) for table, (mass, relative) in TABLES.items()]
    sources.append(("pint", 1e-12, shown_units()))
    sources.append(("coloraide", 1e-12, colours()))
    for table, relative, values in sources:
        for name, theirs in values:
            printed = rows[name]["computed"] if name in rows else "missing"
            try:
                decimals = len(printed.partition(".")[2])
                holds = close(float(printed), theirs, relative, decimals)
            except ValueError:
                holds = False
            passed, failed = passed + holds, failed + (not holds)
            print(f"{'ok  ' if holds else 'FAIL'} {name:24} {printed:>10}  {table}: {theirs:.6f}")
    print(f"{passed} passed, {failed} failed")
    return 1 if failed or not passed else 0


if __name__ == "__main__":
    sys.exit(main())
