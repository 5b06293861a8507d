"""Numbers with units, as technicians write them, turned into SI and back.

Inside the program every value is an SI float; units exist only here, at the edge. A temperature (with its offset) and a
temperature difference (without) are different kinds, and so are a pressure above the station pressure (gauge) and one
above a perfect vacuum (absolute). A unit that could mean two things is asked about, never guessed, with one exception,
which `Measured.note` tells the reader: psi, kPa, bar, MPa and kg/cm2 without a mark are taken as what a service gauge shows.
A replacement that a message proposes is as large as what was written can mean, or the message proposes none.
"""

from diagnose.units.reading import HIGHEST_STATION, LARGEST, Measured, parse
from diagnose.units.spelling import UnitError, is_unit
from diagnose.units.table import CFM, FOOT, IN_H2O, IN_HG, INCH, MICRON, POUND, PSI, TON, Kind, System
from diagnose.units.writing import as_shown, from_si, show, unit_for
