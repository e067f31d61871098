"""Figures for a time-series store, as OpenMetrics text."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from flask import Response, current_app
from prometheus_client.metrics_core import GaugeMetricFamily, Metric
from prometheus_client.openmetrics.exposition import CONTENT_TYPE_LATEST, generate_latest
from prometheus_client.registry import Collector, CollectorRegistry

from service.api.asking import tell
from service.api.budget import now_question
from service.api.contract import Blueprint
from service.api.examples_metrics import METRICS
from service.api.guard import opened
from service.api.schemas.answers import Now
from service.usecases.answers import now_answer
from service.usecases.metrics import figures
from service.wiring import Wiring, wiring

MEDIA_TYPE = CONTENT_TYPE_LATEST.partition(";")[0]

blueprint = Blueprint("metrics", __name__, description="figures for a time-series store")


class Figures(Collector):
    """The figures of some households, read off their answers at each scrape: no process keeps a count of its own."""

    def __init__(self, wired: Wiring, households: list[str]) -> None:
        self._wired, self._households = wired, households

    def collect(self) -> Iterator[Metric]:
        """One family a gauge; a household of which a figure is not known has no sample in it."""
        wired = self._wired

        def ask(name: str) -> dict[str, Any]:
            answer: dict[str, Any] = json.loads(tell(now_question(name), Now, now_answer, wired=wired).body)
            return answer

        for gauge, values in figures(self._households, ask=ask, fits=wired.fits, now=wired.clock()):
            family = GaugeMetricFamily(f"kettlecast_{gauge.name}", gauge.help, labels=["household"], unit=gauge.unit)
            for household, value in values:
                family.add_metric([household], value)
            yield family


def _scraped(households: list[str]) -> Response:
    registry = CollectorRegistry()
    # A registry of its own for each scrape, so that processes and threads share nothing.
    registry.register(Figures(wiring(), households))
    response = current_app.response_class(generate_latest(registry), content_type=CONTENT_TYPE_LATEST)
    response.headers["Cache-Control"] = "no-store"
    return response


@blueprint.get("/metrics")
@blueprint.response(200, {"type": "string"}, content_type=MEDIA_TYPE, example=METRICS)
def get_metrics() -> Response:
    """The figures of every household that the token opens, as OpenMetrics; what is not known has no sample.

    Base units as the standard asks: ratios, joules, cubic meters of wet gas, seconds.
    """
    seen = opened()
    return _scraped([name for name in wiring().homes.names() if seen in (None, name)])


@blueprint.get("/v1/households/<string:household>/metrics")
@blueprint.response(200, {"type": "string"}, content_type=MEDIA_TYPE, example=METRICS)
def get_household_metrics(household: str) -> Response:
    """The same of one household, where one scrape of all would take too long."""
    wiring().homes.get(household)
    return _scraped([household])
