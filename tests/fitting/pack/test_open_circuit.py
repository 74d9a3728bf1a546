"""Open-circuit tables against pybamm's parameter sets of the same papers."""

import numpy as np
import pytest

from estimator.descriptions import CHEMISTRIES
from estimator.fitting.pack.open_circuit import GRID, GRID_STEP, grid_open_circuit_v, open_circuit_v, places

PAPERS = {"nmc": "Chen2020", "nca": "NCA_Kim2011", "lco": "Ramadass2004", "lfp": "Prada2013"}


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("chemistry", PAPERS)
def test_table_is_the_papers_fit(chemistry):
    """The two electrodes' potentials of the paper between its voltage limits; 2 mV covers interpolation."""
    pybamm = pytest.importorskip("pybamm")
    values = pybamm.ParameterValues(PAPERS[chemistry])
    cell = pybamm.LithiumIonParameters()
    x0, x1, y1, y0 = pybamm.lithium_ion.get_min_max_stoichiometries(values)
    charge = np.array([0.02, 0.08, 0.15, 0.25, 0.4, 0.55, 0.7, 0.85, 0.96])
    kelvin = values["Ambient temperature [K]"]
    paper = [
        float(values.evaluate(cell.p.prim.U(pybamm.Scalar(y0 + z * (y1 - y0)), pybamm.Scalar(kelvin))))
        - float(values.evaluate(cell.n.prim.U(pybamm.Scalar(x0 + z * (x1 - x0)), pybamm.Scalar(kelvin))))
        for z in charge
    ]
    assert open_circuit_v(chemistry, charge) == pytest.approx(np.array(paper), abs=0.002)


@pytest.mark.filterwarnings("ignore")
def test_lead_acid_is_bodes_fit():
    """Bode 1977 as in pybamm's Sulzer2019 set, at 5.65, 3.425 and 1.2 mol/L."""
    pybamm = pytest.importorskip("pybamm")
    values = pybamm.ParameterValues("Sulzer2019")
    acid = pybamm.LeadAcidParameters()
    for charge, molar in ((1.0, 5650.0), (0.5, 3425.0), (0.0, 1200.0)):
        m = float(values.evaluate(acid.m(pybamm.Scalar(molar))))
        paper = values["Positive electrode open-circuit potential [V]"](m)
        paper = paper - values["Negative electrode open-circuit potential [V]"](m)
        ours = float(open_circuit_v("lead_acid", charge))
        assert ours == pytest.approx(float(values.evaluate(paper)), abs=0.002)


@pytest.mark.parametrize("chemistry", CHEMISTRIES)
def test_more_charge_never_means_less_voltage(chemistry):
    assert np.all(np.diff(grid_open_circuit_v(chemistry)) >= -1e-9)
    assert GRID[0] < 0 < 1 < GRID[-1]


def test_a_charge_lies_between_the_places_of_the_grid_that_hold_it():
    charge = np.array([GRID[0], -0.013, 0.0, 0.2504, 0.999])
    low, part = places(charge)
    assert GRID[low] + part * GRID_STEP == pytest.approx(charge, abs=1e-9)
    assert (part >= 0).all() and (part < 1).all()
