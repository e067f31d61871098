"""The pools of a digester walked day by day on every path, from the feed and the warmth of the last weeks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from models.production.substrate import POOL_SHARES, Feeding, Kinetics, activity, decay_shares
from models.production.values import DigesterNow
from models.units import Floats

POOL_MEMORY_D = 200
UNSEEN_SPREAD = 0.35  # of the logarithm of a day's feed that was not written down


def unseen(shape: tuple[int, int], rng: np.random.Generator) -> Floats:
    """Feed of days that nobody wrote down, over what they were given on the mean."""
    return np.asarray(np.exp(UNSEEN_SPREAD * rng.standard_normal(shape) - UNSEEN_SPREAD**2 / 2.0))


@dataclass(slots=True)
class Pools:
    """The two pools of one digester on every path, walked day by day."""

    kinetics: Kinetics
    fast: Floats
    slow: Floats

    def step(self, slurry_c: Floats, gas_sm3: Floats | float, dilution_per_d: Floats | float) -> Floats:
        """Feed and decay of one day: gas made, shape (paths,). [sm3]"""
        active = activity(slurry_c, self.kinetics.t0_c)
        made = np.zeros(active.shape)
        for name, share, rate in (
            ("fast", POOL_SHARES[0], self.kinetics.fast_per_d),
            ("slow", POOL_SHARES[1], self.kinetics.slow_per_d),
        ):
            left, gassed = decay_shares(rate, active, dilution_per_d)
            pool = getattr(self, name) + share * gas_sm3 / 2.0
            made += pool * gassed
            setattr(self, name, pool * left + share * gas_sm3 / 2.0)
        return made


def recent_feed(fed: Feeding, draws: int, rng: np.random.Generator) -> Floats:
    """Gas that the feed of the last weeks can give, (days, draws): as written down, or as it may have been. [sm3]"""
    days = slice(-POOL_MEMORY_D, None)
    gas = fed.gas_sm3[days, None]
    return np.where(fed.logged[days, None], gas, gas * unseen((len(gas), draws), rng))


def pools_now(one: DigesterNow, kinetics: Kinetics, shift_k: Floats, gas: Floats) -> tuple[Pools, Floats]:
    """Pools after the last weeks of the log, and gas made on each of those days (days, draws)."""
    days = slice(-POOL_MEMORY_D, None)
    warm = one.slurry.daily_c[days]
    dilution = one.feeding.dilution_per_d[days]
    active = activity(np.full(np.shape(kinetics.t0_c), warm.mean()), kinetics.t0_c)
    start = [
        share * gas.mean() / (rate * active + dilution.mean())
        for share, rate in zip(POOL_SHARES, (kinetics.fast_per_d, kinetics.slow_per_d), strict=True)
    ]
    pools = Pools(kinetics, start[0], start[1])
    made = [pools.step(warm[k] + shift_k, gas[k], float(dilution[k])) for k in range(len(warm))]
    return pools, np.array(made)
