"""Tailcomb's station for Python: the cards, formulas and timers of a hair-colour salon, with all that a station can do.

    async with tailcomb.open("station") as salon:
        station = salon.station()
        ...

What is awaited is on the disk when it has been awaited. A refusal is a `HostError` with a stable `code` and a sentence
for people. Amounts carry their unit in their type or name: `Grams` are whole milligrams, `…_ms` milliseconds.
"""

from ._native.tailcomb_core import *
from ._native.tailcomb_core import Date as Date, DocId as DocId, EntryId as EntryId, Json as Json, JsonObject as JsonObject
from ._native.tailcomb_core import PersonId as PersonId, RecordDigest as RecordDigest, RevId as RevId
from ._native.tailcomb_ffi import AlarmScheduler as AlarmScheduler, Connectivity as Connectivity, Founded as Founded
from ._native.tailcomb_ffi import HostServices as HostServices, HostClock as HostClock, KeyVault as KeyVault
from ._native.tailcomb_ffi import KeyVaultError as KeyVaultError, Logger as Logger, LogLevel as LogLevel
from ._native.tailcomb_ffi import NetworkTold as NetworkTold, Observation as Observation, Observer as Observer
from ._native.tailcomb_ffi import file_key_vault as file_key_vault, log_to as log_to
from ._native.tailcomb_trade import *
from ._native.tailcomb_trade import Grams as Grams, Level as Level, Micrometres as Micrometres, Millis as Millis
from ._native.tailcomb_trade import Percent as Percent, Ratio as Ratio, Volumes as Volumes
from .station import News as News, Tailcomb as Tailcomb, open as open


def _sentence(error: HostError) -> str:
    return error.sentence


def _text(told: Told) -> str:
    return told.text


# What a program prints of an error that it did not foresee, or of what the station says, is for people.
HostError.__str__ = _sentence  # type: ignore[method-assign, assignment]
Told.__str__ = _text  # type: ignore[method-assign, assignment]
