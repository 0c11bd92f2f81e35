"""What stands beside every result of the study: its limits, and what the birds in it are."""

HENS_ONLY = (
    "The birds are hens that go to roost by themselves. A door does not bring ducks, geese or turkeys in: they have to "
    "be brought in and counted."
)
LIMITS = (
    "One summer month of one-minute irradiance and one late-summer week of half-minute light hold the model up: "
    "no winter, no 60 N and no fog, minute by minute. Against that week the model's spread at twilight is too small "
    "(0.47 of 0.65 degrees at 10 lux).",
    "What clouds take from twilight is carried over from day. Storms, snow, dirt, stragglers and the birds' own light "
    "levels are assumed.",
    "Minutes open are time, not risk. Bird counts compare settings; they are no forecast for a flock.",
    "Whether birds follow the evening's light or the Sun is not known and decides much; your own last-bird-in times "
    "settle it (sunsched angle).",
)
CAUTION = "Look at birds and door every day, and count the birds after closing until the setting is proven."
