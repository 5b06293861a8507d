"""What a sound heat pump reads while it heats, by the outdoor air. Everything K, SI.

Lines through two makers' printed charts for machines that are right (tests/reference/heating_charts.csv: R-410A, 70 °F return
air), so every spread is wider than theirs: two series are few. Outside 0 to 65 °F outdoors the lines are held at their ends.
"""

from diagnose.properties.targets.expected import F, Target, fahrenheit
from diagnose.units.columns import absent, clamp, given, greater, lesser

HEATING_CHARTS = "heating-charts"
OWN_SIMULATOR = "own-simulator"
MAKERS_HEATING_CHART = "makers-heating-chart"


def _at(outdoor: float, at_47: float, slope: float) -> float:
    """A line through its value at 47 °F outdoors, the rating point of heat pumps; outdoor in K, slope a °F."""
    return at_47 + slope * (clamp(fahrenheit(outdoor), 0.0, 65.0) - 47.0)


def _orifice_superheat(outdoor: float) -> float:
    return 1.1 * greater(0.0, lesser(fahrenheit(outdoor), 65.0) - 40.0)


def _orifice_subcooling(outdoor: float, accumulator: bool) -> tuple[float, float]:
    """The subcooling of an orifice machine, and by how much the air is warmer than where it begins, °F."""
    begins, slope = (25.0, 0.55) if accumulator else (0.0, 0.34)
    over = greater(0.0, lesser(fahrenheit(outdoor), 65.0) - begins)
    return slope * over, over


def condensing_over_return_air(outdoor: float | None, orifice: bool = False, accumulator: bool = True) -> Target | None:
    """Condensing temperature minus return air dry bulb: 33 °F at 47 °F outdoors, 0.36 °F more for each °F, spread 4.5 °F.

    Behind an orifice more by a fifth of its subcooling: liquid that backs up in the indoor coil takes surface from it.
    The charts: 28 and 33 °F at 47 °F, 17 and 19 °F at 10 °F; the trade says 30 to 40 °F (from memory), so the line lies at
    their upper side. At 300, 400 and 500 cfm/ton they print 35, 28 and 24 °F; that is not
    taken into account, because little air is what the figure is to show.
    """
    if outdoor is None or absent(outdoor):
        return None
    value = _at(outdoor, 33.0, 0.36)
    if orifice:
        value = value + _orifice_subcooling(outdoor, accumulator)[0] / 5.0
    return Target(value * F, 4.5 * F, HEATING_CHARTS, "typical")


def outdoor_coil_below_outdoor_air(outdoor: float | None, orifice: bool = False) -> Target | None:
    """Outdoor air minus evaporating temperature: 17 °F at 47 °F outdoors, 0.2 °F more for each °F, spread 3 °F.

    The charts: 16 and 17 °F at 47 °F, 10 °F at 10 °F, 20 and 22 °F at 60 °F. An orifice starves the coil in mild weather: gas
    leaves no warmer than the air, so that the coil lies by at least the superheat below it.
    """
    if outdoor is None or absent(outdoor):
        return None
    value = _at(outdoor, 17.0, 0.2)
    if orifice:
        value = greater(value, _orifice_superheat(outdoor))
    return Target(value * F, 3 * F, HEATING_CHARTS, "typical")


def heating_subcooling(rated: float | None) -> Target:
    """Subcooling at the indoor coil's outlet on a valve machine: the maker's, else 20 °F with spread 5 °F.

    The charts print 14 to 35 °F: a charge that is right in cooling is too much for the small indoor coil, and backs up in it.
    """
    if given(rated):
        return Target(rated, 0.0, MAKERS_HEATING_CHART, "maker")
    return Target(20 * F, 5 * F, HEATING_CHARTS, "typical")


def orifice_superheat_in_heating(outdoor: float | None) -> Target | None:
    """Superheat at the common suction line of a fixed orifice machine: none up to 40 °F outdoors, then 1.1 °F for each °F.

    An orifice feeds by the pressure difference alone: in the cold more than the outdoor air can boil, in mild weather less.
    No published figure was found: the slope is that of the project's own simulator, beside which a second one's machines
    lie; spread 3 °F in the cold, 6 °F above.
    """
    if outdoor is None or absent(outdoor):
        return None
    over = greater(0.0, lesser(fahrenheit(outdoor), 65.0) - 40.0)
    return Target(_orifice_superheat(outdoor) * F, (3 + lesser(3.0, over / 3)) * F, OWN_SIMULATOR, "typical")


def orifice_subcooling_in_heating(outdoor: float | None, accumulator: bool = True) -> Target | None:
    """Subcooling of a fixed orifice machine: none up to 25 °F outdoors, then 0.55 °F for each °F; as the superheat above.

    In the cold the spare charge lies in the accumulator. Where there is none it stays in the coils: from 0 °F on 0.34 °F for
    each °F, until both are one at 65 °F, where an accumulator is dry. Spread 3 °F where none is expected, soon 8 °F.
    """
    if outdoor is None or absent(outdoor):
        return None
    value, over = _orifice_subcooling(outdoor, accumulator)
    return Target(value * F, (3 + lesser(5.0, over / 3)) * F, OWN_SIMULATOR, "typical")


def air_rise(outdoor: float | None) -> Target | None:
    """Supply minus return air dry bulb, heat pump alone: 26 °F at 47 °F outdoors, 0.33 °F more for each °F.

    The chart: 30, 26, 21, 16 and 14 °F at 60, 47, 35, 17 and 10 °F. Spread 4 °F: the
    airflow moves it inversely, and that is what it is to show.
    """
    if outdoor is None or absent(outdoor):
        return None
    return Target(_at(outdoor, 26.0, 0.33) * F, 4 * F, HEATING_CHARTS, "typical")


def heating_capacity_ratio(outdoor: float | None) -> Target | None:
    """Heat to the air over the nominal cooling capacity: 0.96 at 47 °F outdoors, 0.0126 more for each °F, spread 10 %."""
    if outdoor is None or absent(outdoor):
        return None
    value = _at(outdoor, 0.96, 0.0126)
    return Target(value, 0.1 * value, HEATING_CHARTS, "typical")


def heating_performance(outdoor: float | None) -> Target | None:
    """Heat over electric power: 3.6 at 47 °F outdoors, 0.04 more for each °F, spread 15 %: one machine's chart, SEER 14."""
    if outdoor is None or absent(outdoor):
        return None
    value = _at(outdoor, 3.6, 0.04)
    return Target(value, 0.15 * value, HEATING_CHARTS, "typical")


def heating_current_ratio(outdoor: float | None, orifice: bool = False) -> Target | None:
    """Compressor current over its plate: 0.75 at 47 °F outdoors, 0.004 more for each °F, spread 12 %: plates differ.

    Behind an orifice 0.0055 more, as the head pressure there.

    The chart's power less some 0.45 kW for both fans (from memory) rises by 0.4 to 0.5 % a °F. That it is a good tenth below
    that of the same machine cooling at 95 °F, which draws 0.85 of its plate, is judgement.
    """
    if outdoor is None or absent(outdoor):
        return None
    value = _at(outdoor, 0.75, 0.0055 if orifice else 0.004)
    return Target(value, 0.12 * value, HEATING_CHARTS, "typical")
