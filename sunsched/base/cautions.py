"""The cautions that stand beside results, each once: what the tool does not know, and what can hurt someone.

Plain strings; the printing code folds them. The sources of the figures stand in the modules that compute them.
"""

from __future__ import annotations

# Beside a year of door times: page and sheets.
DOOR = (
    "The tool advises times and sums; it certifies nothing. Local codes, makers' data and licensed electricians "
    "prevail.",
    "Look at birds and door every day; a message from afar is no inspection. Count the birds after closing until the "
    "setting is proven, and give stragglers a refuge outside the door.",
    "The plate falls by its weight: keep fingers and heads clear. No published limit of force for birds was found, so "
    "force and energy are reported and never passed or failed.",
    "Both directions must stop on time-out, reversal only after the dead time, and a hand override must always work. "
    "Isolate the power before clearing a jam, and support the plate.",
    "Lead-acid: fuse at the positive terminal, ventilated housing, no sparks (hydrogen explodes from 4.1 to 72 % in "
    "air), never charge it frozen. 12.2 V at rest is about half charge.",
    "Decide what the door does when the battery is empty: birds locked in need water and air.",
    "Mains chargers: residual-current device, outdoor-rated enclosure, wiring by a licensed electrician.",
    "Housing orders, registration and noise rules change: check them every year.",
)

# Beside a play of the door's program.
PLAY = (
    "A play is a model, not the door: the program is the very one, but light, motor, cord, plate and switches are "
    "simple sums. Your door may do otherwise than what is shown here; try the built door on the bench and at dusk.",
    "No play says where the birds are. Look at birds and door every day, and count the birds after closing until the "
    "setting is proven.",
    "The plate falls by its weight: keep fingers and heads clear. Do not break on the built door what a button breaks "
    "here: isolate the power before you touch switches, cord or plate, and support the plate.",
    "The tool certifies nothing. Local codes, makers' data and licensed electricians prevail.",
)

# In the door program's folder: what stands beside a year of door times, and what a bench needs to know.
PROGRAM = (
    *DOOR,
    "Fit end switches that also cut their own direction in hardware: a program that hangs cannot stop the motor.",
    "EN 12453's force limits (400 N peak, 150 N after 0.75 s, 25 N after 5 s) are for persons and leave out doors "
    "mainly for keeping animals in.",
)

# In the heading of a generated C header, a comment line each.
HEADER = (
    "Sun times are sums, not care: look at birds and door every day, count the birds after closing,",
    "keep fingers clear of the door. Local codes, makers' data and licensed electricians prevail.",
)

# Beside the drive's sums.
DRIVE = (
    "These are sums, not a certificate. Local codes, the makers' data and licensed electricians prevail.",
    "EN 12453's force limits (400 N peak, 150 N after 0.75 s, 25 N after 5 s) are for persons and leave out doors "
    "mainly for keeping animals in; no published limit for birds was found, so force and energy on a bird are "
    "reported and neither passed nor failed. Keep fingers clear.",
    "Both directions must stop on time-out; reverse only after the dead time; a hand override must always work.",
    "Isolate power before clearing a jam, and support the plate first.",
    "Put the fuse at the battery's positive terminal, no greater than the thinnest cable may carry.",
)

# Beside the battery's sums.
BATTERY = (
    "These are sums on model weather, not a forecast and not a certificate. Local codes, the makers' data and licensed "
    "electricians prevail. Inspect birds and door daily.",
    "Lead-acid: fuse at the positive terminal; ventilated housing, no sparks (hydrogen is explosive from 4.1 to 72 %).",
    "Never charge a frozen battery: a discharged one freezes at a few degrees below 0 C, a full one far lower "
    "(from memory).",
    "12.2 V at rest is about half charge for a 12 V lead-acid battery.",
    "Mains chargers: RCD/GFCI, enclosure rated for outdoors, licensed wiring.",
    "Snow on the panel, a shaded or dirty panel and a battery with an open cell are not in these figures.",
)

# Which birds every study assumes.
HENS_ONLY = (
    "The birds are hens that go to roost by themselves. A door does not bring ducks, geese or turkeys in: they have to "
    "be brought in and counted."
)

# What the study's model leaves out.
STUDY_LIMITS = (
    "One summer month of one-minute irradiance and six late-summer evenings of half-minute light hold the model up: "
    "no winter, no 60 N and no fog, minute by minute.",
    "What clouds take from deep twilight, snow, dirt, stragglers, the birds' own light levels and how far the cell's "
    "sky differs from theirs are assumed (sunsched compare --assumptions).",
    "Minutes open are time, not risk. Bird counts compare settings; they are no forecast for a flock.",
    "Whether birds follow the evening's light or the Sun is not known and decides much; your own last-bird-in times "
    "with a light log of the same evenings may tell (sunsched angle --light).",
)

# Beside every result of the study.
COUNT_THE_BIRDS = "Look at birds and door every day, and count the birds after closing until the setting is proven."

# All of the study's, in the order in which they are printed.
STUDY = (HENS_ONLY, *STUDY_LIMITS, COUNT_THE_BIRDS)

# Those that stand beside a short answer.
STUDY_FIRST = (HENS_ONLY, *STUDY_LIMITS[1:3], COUNT_THE_BIRDS)

# Beside the light cell's thresholds.
CELL = (
    "Two cells of one bag differ by the spread printed here. Calibrate in place: note the counts on a clear evening at"
    " a known minute, or let `sunsched replay` do it from a log.",
    "Counts are of the light at the cell: sky_view, dirt, dew and snow on its window come off the sky's light.",
    "The clear-sky model is good to about 0.02 in log10 on a clear evening and says nothing of clouds; twilight under"
    " cloud is extrapolated from day.",
    "A lamp, headlights or the Moon on snow can reach these thresholds. Count the birds after closing until the"
    " setting is proven.",
)

# Beside the clock's reach.
CLOCK = (
    "A clock is judged by its reading, not by its datasheet: note it against true time twice a year, and after every"
    " change of battery.",
    "Summer time is no concern of a chip on standard time: set it to standard time in summer too.",
)

# Beside a replayed light log.
REPLAY = (
    "The rules of the door's program stepped over the log's minutes, the clock taken as right and the cell as proven."
    " A log of one value every few minutes hides passing shadows and lamps.",
    "The clear-sky model is good to about 0.02 in log10; twilight of clear evenings measured elsewhere lay 0.2 to 0.4"
    " below it. What the cell's place does (view, dirt, dew) is in the offset found here.",
    "What the door would have done says nothing of where the birds were.",
    *STUDY_LIMITS[1:],
    HENS_ONLY,
    COUNT_THE_BIRDS,
)

# Beside an angle fitted from nights.
ANGLE = (
    "The sums take nights to come for nights like those noted: note evenings of every season and every weather, and"
    " again when birds are added.",
    "A bird in the doorway keeps another one out: give stragglers a refuge.",
    HENS_ONLY,
    COUNT_THE_BIRDS,
)
