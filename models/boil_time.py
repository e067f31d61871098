"""How long a pan takes on this gas, how much longer than on undiluted gas, and what it burns."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from models.boiling import Boil, EfficiencyBasis, Flame, boil
from models.burner import Burner, GasSupply, Mode, heat_input_kw
from models.dilution import rule_of_thumb
from models.errors import within
from models.gas import net_mj_per_sm3
from models.holder import sm3_per_m3
from models.pan import Kitchen, Pan
from models.units import Floats

Q90 = 1.2816  # standard errors from the median to the 0.9 quantile


@dataclass(frozen=True, slots=True, kw_only=True)
class Hob:
    """A pan on a burner on one gas.

    `supply` holds scalars, `methane_sd` is the standard error of its methane share and `useful_sd` the relative one of
    the burner's heat input times efficiency.
    """

    burner: Burner
    pan: Pan
    supply: GasSupply
    kitchen: Kitchen
    mode: Mode = "fixed_injector"
    methane_sd: float = 0.0
    useful_sd: float = 0.0
    efficiency_from: EfficiencyBasis = "test"
    loss_w_per_k: float | None = None

    def __post_init__(self) -> None:
        within("methane_fraction", self.supply.methane_fraction, 0.05, 1.0)
        within("methane_sd", self.methane_sd, 0.0, 0.3)
        within("useful_sd", self.useful_sd, 0.0, 1.0)

    def flame(self) -> Flame:
        """The burner at full flame, shape (4,): on this gas, strong and weak at the 0.9 and 0.1 quantile, undiluted."""
        x = float(np.asarray(self.supply.methane_fraction))
        shares = np.clip([x, x + Q90 * self.methane_sd, x - Q90 * self.methane_sd, 1.0], 0.05, 1.0)
        supply = replace(self.supply, methane_fraction=shares)
        now, rich, poor, undiluted = heat_input_kw(self.burner, supply, self.mode)
        by_gas = np.log(np.array([rich, poor]) / now) if now > 0.0 else np.zeros(2)
        strong, weak = now * np.exp(np.array([1.0, -1.0]) * np.hypot(by_gas, Q90 * self.useful_sd))
        return Flame(
            heat_input_kw=np.array([now, strong, weak, undiluted]),
            efficiency=self.burner.efficiency,
            efficiency_from=self.efficiency_from,
            loss_w_per_k=self.loss_w_per_k,
            lowest_fraction=self.burner.lowest_flame_fraction,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class BoilTime:
    """A pan brought to the boil, beside the same on undiluted gas; minutes and gas are infinite where it never boils.

    `boil_q10_min` and `boil_q90_min` carry the spread of the methane share and of the burner's heat. `gas_m3` is wet
    gas as it reaches the burner. `rule_pressure_factor` and `rule_flow_factor` are what the rule of thumb silently
    assumes (`RuleOfThumb`).
    """

    boil_min: float
    boil_q10_min: float
    boil_q90_min: float
    undiluted_boil_min: float
    penalty_min: float
    penalty_pct: float
    rule_of_thumb_penalty_pct: float
    rule_pressure_factor: float
    rule_flow_factor: float
    heat_input_kw: float
    undiluted_heat_input_kw: float
    boiling_point_c: float
    gas_m3: float
    gas_sm3: float
    gas_mj: float
    simmer_fraction: float
    never_boils: bool
    methane_fraction: float


def boil_time(hob: Hob, *, water_l: float, from_c: float) -> BoilTime:
    """Time, gas and the price of dilution of bringing a pan to the boil at full flame.

    Parameters
    ----------
    hob : Hob
    water_l : float
        Water. [L], 0.05 to 100
    from_c : float
        Its temperature at the start. [°C], 0 to 100

    Returns
    -------
    BoilTime

    Raises
    ------
    OutOfRange
        Where an input lies outside its range.

    Notes
    -----
    The undiluted gas is methane at the same pressure, temperature and humidity behind the same burner.
    """
    flame = hob.flame()
    boiled = boil(hob.pan, water_l=water_l, from_c=from_c, flame=flame, kitchen=hob.kitchen)
    return _told(hob, boiled, np.asarray(flame.heat_input_kw))


def _told(hob: Hob, boiled: Boil, heat_kw: Floats) -> BoilTime:
    x = float(np.asarray(hob.supply.methane_fraction))
    now, quick, slow, undiluted = (float(minutes) for minutes in boiled.boil_min)
    # a pan that never boils has no penalty that could be told, nor has water that boils already
    penalty = now - undiluted if np.isfinite(now) else np.nan
    rule = rule_of_thumb(x)
    gas_sm3 = float(boiled.gas_mj[0] / net_mj_per_sm3(x))
    supply = hob.supply
    stored = sm3_per_m3(
        supply.temperature_c, gauge_pa=supply.gauge_pa, atmosphere_pa=supply.atmosphere_pa, humidity=supply.humidity
    )
    return BoilTime(
        boil_min=now,
        boil_q10_min=quick,
        boil_q90_min=slow,
        undiluted_boil_min=undiluted,
        penalty_min=penalty,
        penalty_pct=100.0 * penalty / undiluted if undiluted > 0.0 else np.nan,
        rule_of_thumb_penalty_pct=100.0 * float(rule.penalty_fraction),
        rule_pressure_factor=float(rule.pressure_factor),
        rule_flow_factor=float(rule.flow_factor),
        heat_input_kw=float(heat_kw[0]),
        undiluted_heat_input_kw=float(heat_kw[3]),
        boiling_point_c=boiled.boiling_point_c,
        gas_m3=gas_sm3 / float(stored),
        gas_sm3=gas_sm3,
        gas_mj=float(boiled.gas_mj[0]),
        simmer_fraction=float(boiled.simmer_fraction[0]),
        never_boils=bool(boiled.never_boils[0]),
        methane_fraction=x,
    )
