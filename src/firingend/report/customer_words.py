"""Plain words for whoever owns the engine. Common practice, no source."""

from __future__ import annotations

from typing import Final

from firingend.labels import UNREADABLE

SHORT: Final = {
    "lean-white": "pale: too hot or lean",
    "normal-tan": "healthy",
    "rich-carbon": "sooty",
    "oil-fouled": "oily",
    "wet": "wet with fuel",
    UNREADABLE: "not readable",
}
"""What stands under the picture of a plug."""

SEEN: Final = {
    "lean-white": "burnt pale: too little fuel, too much air or too much heat",
    "normal-tan": "healthy",
    "rich-carbon": "black with soot: too much fuel, too little air or a weak spark",
    "oil-fouled": "oily: engine oil gets into the cylinder",
    "wet": "wet with fuel: fuel arrived and did not burn",
    UNREADABLE: "not clear from the picture",
}
"""What a plug showed, after "The spark plug of cylinder 2 was …"."""

WATCH: Final = {
    "lean-white": "Loss of power, knocking or a rising temperature: take the load off, stop and call us.",
    "rich-carbon": "Black smoke, rough running or rising fuel use: bring it back soon.",
    "oil-fouled": "Check the oil level at every second refuelling and write down what you add; blue smoke: call us.",
    "wet": "Rough running or a smell of fuel: switch it off, do not keep cranking, and call us.",
}
"""What to watch after a plug with this label."""

WATCH_COOLANT: Final = "Check the coolant level, engine cold; sweet white smoke or a falling level: stop and call us."
WATCH_ALWAYS: Final = "If the fault comes back, write down when: cold or hot, idling or pulling, dry or wet weather."

CAUTIONS: Final = (
    "Smell of fuel: do not start the engine, keep flames and switches away, air the place, call the workshop.",
    "Exhaust gas kills: never run an engine in a closed space.",
    "Leave ignition leads, fuel lines and the coolant cap alone while the engine runs or is hot.",
)

STANDING: Final = (
    "The engine's service manual, local rules and a licensed technician's judgement come before this report."
    " Plugs were judged with the help of a program that reads photographs; its readings are advice."
)
STANDING_BY_HAND: Final = (
    "The engine's service manual, local rules and a licensed technician's judgement come before this report."
)

SIGNATURES: Final = ("For the workshop", "Date", "Customer")
