"""How good forecasts were."""

from __future__ import annotations

from service.api.fields import Schema, answer, flag, many, moment, text, whole

MANY = 10**9
REASONS = ("not_measured", "no_exact_days")


class SkillQuery(Schema):
    """How much of the past to sum up."""

    days = whole("d", "forecasts of the last so many days", 1, 4000, load_default=90)


class LeadSkill(Schema):
    """Forecasts of a range of lead days summed up; null where there is nothing to compare."""

    first_lead_day = whole("d", "from so many days ahead, 1 the first whole day", 1, 90)
    last_lead_day = whole("d", "to so many days ahead", 1, 90)
    forecasts = whole("1", "forecast days compared with days that the log tells exactly", 0, MANY)
    mean_sm3 = answer("m3", "dry standard gas made on those days, the mean")
    mae_sm3 = answer("m3", "mean absolute error of the median")
    bias_sm3 = answer("m3", "mean of the median less what came")
    pinball_sm3 = answer("m3", "mean pinball loss over nine quantiles")
    within_80 = answer("1", "share of days within the 80 % interval", digits=3)
    within_95 = answer("1", "share of days within the 95 % interval", digits=3)
    to_week_mean = answer("1", "error over that of the mean of the seven days before; below 1 is better", digits=3)
    to_last_value = answer("1", "error over that of the day before repeated; below 1 is better", digits=3)


class Skill(Schema):
    """How good the forecasts of gas made were."""

    valid = flag("whether there is anything to tell")
    reason = text("why not", one_of=REASONS, allow_none=True)
    summary = text("one plain sentence")
    time_zone = text("the household's time zone")
    measured_at = moment("when this was measured", allow_none=True)
    first_origin = moment("the first forecast compared", allow_none=True)
    last_origin = moment("the last forecast compared", allow_none=True)
    ranges = many(LeadSkill, "the next day, the first week, the second week", allow_none=True)
    leads = many(LeadSkill, "day by day")
