"""The cautions that stand beside a door's times."""

CAUTIONS = (
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
