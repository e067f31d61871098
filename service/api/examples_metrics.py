"""An example of the metrics: three figures of one invented household."""

METRICS = (
    "# HELP kettlecast_forecast_valid 1 where the figures may be acted on, else 0\n"
    "# TYPE kettlecast_forecast_valid gauge\n"
    'kettlecast_forecast_valid{household="home"} 1.0\n'
    "# HELP kettlecast_level_ratio level the gauge would show\n"
    "# TYPE kettlecast_level_ratio gauge\n"
    "# UNIT kettlecast_level_ratio ratio\n"
    'kettlecast_level_ratio{household="home"} 0.476\n'
    "# HELP kettlecast_tomorrow_budget_cubic_meters wet gas that may be burned tomorrow\n"
    "# TYPE kettlecast_tomorrow_budget_cubic_meters gauge\n"
    "# UNIT kettlecast_tomorrow_budget_cubic_meters cubic_meters\n"
    'kettlecast_tomorrow_budget_cubic_meters{household="home"} 0.3519\n'
    "# EOF\n"
)
