"""What stands beside the results of cell, clock, replay and angle, as text and as values."""

from sunsched.study.limits import CAUTION, HENS_ONLY, LIMITS

CELL_CAUTIONS = (
    "Two cells of one bag differ by the spread printed here. Calibrate in place: note the counts on a clear evening at"
    " a known minute, or let `sunsched replay` do it from a log.",
    "Counts are of the light at the cell: sky_view, dirt, dew and snow on its window come off the sky's light.",
    "The clear-sky model is good to about 0.02 in log10 on a clear evening and says nothing of clouds; twilight under"
    " cloud is extrapolated from day.",
    "A lamp, headlights or the Moon on snow can reach these thresholds. Count the birds after closing until the"
    " setting is proven.",
)

CLOCK_CAUTIONS = (
    "A clock is judged by its reading, not by its datasheet: note it against true time twice a year, and after every"
    " change of battery.",
    "Summer time is no concern of a chip on standard time: set it to standard time in summer too.",
)

REPLAY_CAUTIONS = (
    "The rules of the door's program stepped over the log's minutes, the clock taken as right and the cell as proven."
    " A log of one value every few minutes hides passing shadows and lamps.",
    "The clear-sky model is good to about 0.02 in log10; twilight of clear evenings measured elsewhere lay 0.2 to 0.4"
    " below it. What the cell's place does (view, dirt, dew) is in the offset found here.",
    "What the door would have done says nothing of where the birds were.",
    *LIMITS[1:],
    HENS_ONLY,
    CAUTION,
)

ANGLE_CAUTIONS = (
    "The sums take nights to come for nights like those noted: note evenings of every season and every weather, and"
    " again when birds are added.",
    "A bird in the doorway keeps another one out: give stragglers a refuge.",
    HENS_ONLY,
    CAUTION,
)
