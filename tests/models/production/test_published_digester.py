"""A published digester, described as it stood and left without a log."""

from __future__ import annotations

import json

import numpy as np
import pytest

from models.digester import feedstock
from models.log import Log
from models.production.fit import record, state
from models.production.forecast import sample_paths
from service.api.examples import DESCRIPTION
from service.documents import household_from


@pytest.mark.parametrize("end", ["low", "high"])
def test_a_published_digester_without_a_log_gives_the_published_yield_when_warm_and_little_when_cold(published, end):
    """A dome of 1.14 m3 on dairy manure in Ohio, between 5.3 and 27.9 °C.

    Its own yields by month are not at hand; the field yield of cow manure stands for them.
    """
    table = published("small_digester").set_index("quantity")
    liquid, loading = table.loc["liquid", "low"], table.loc["loading", end]
    kg = loading * liquid / feedstock("dairy manure").volatile_solids_fraction
    document = json.loads(json.dumps(DESCRIPTION)) | {
        "time_zone": "America/New_York",
        "site": {
            "altitude_m": 300,
            "latitude_deg": 40.8,
            "monthly_mean_c": [-3, -2, 4, 10, 16, 21, 23, 22, 18, 12, 5, 0],
        },
        "digesters": [
            {
                "name": "dome",
                "liquid_m3": liquid,
                "usual_feed_kg_per_d": kg,
                "usual_water_l_per_d": kg,
                "feedstock": "dairy manure",
            }
        ],
    }
    household = household_from(document)
    yields, slurry_c = {}, {}
    for month, day in ((8, 19_936.2), (10, 20_012.2), (11, 20_042.2), (1, 19_738.2)):  # 1 August to 16 January 2024
        known = record(household, Log(), None, day)
        edges = day + np.arange(0.0, 15.0)
        paths = sample_paths(state(known, None), edges_d=edges, paths=1000, rng=np.random.default_rng(0))
        per_kg = paths.made_sm3.mean(axis=1) / (loading * liquid)
        yields[month], slurry_c[month] = np.quantile(per_kg, [0.1, 0.5, 0.9]), float(np.median(paths.slurry_c))

    # Nobody measured the slurry: the prior is good to 2.5 K.
    assert slurry_c[8] == pytest.approx(table.loc["slurry_temperature", "high"], abs=2.5)
    assert slurry_c[1] < 10.0
    middle = (table.loc["yield", "low"] + table.loc["yield", "high"]) / 2.0
    assert yields[8][0] < middle < yields[8][2]
    # Below 20 °C it falls off: half is left in mid October, next to nothing in winter.
    assert slurry_c[10] < 20.0
    assert yields[10][1] < 0.6 * yields[8][1]
    assert yields[11][1] < 0.25 * yields[8][1]
    assert yields[1][1] < 0.05 * yields[8][1]
