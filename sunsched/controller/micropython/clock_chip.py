"""The clock chips: DS3231, DS1307, PCF8523 and PCF8563. All keep BCD; each has its own places and flags.

Register maps: data sheets of Maxim DS3231 and DS1307, NXP PCF8523 (Rev. 6) and PCF8563 (Rev. 10).
"""

STOPPED = 0x80  # of the seconds' register, or of the DS3231's status
# address, first register of the time, place of the date in it, what is written at the start (register, value)
_CHIPS = {
    "ds3231": (0x68, 0, 4, ((0x0E, 0),)),
    "ds1307": (0x68, 0, 4, ((0x07, 0x10),)),
    "pcf8523": (0x68, 3, 3, ((0x00, 0), (0x01, 0), (0x02, 0), (0x0F, 0x30))),
    "pcf8563": (0x51, 2, 3, ((0x00, 0), (0x0D, 0x83))),
}
_STATUS = 0x0F  # of the DS3231
_BEFORE = (0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334, 365)


def day_number(year: int, month: int, day: int) -> int | None:
    """Days since 2000-01-01 of a date of 2000 to 2099; None where there is no such date."""
    if not (2000 <= year <= 2099 and 1 <= month <= 12):
        return None
    leap = 1 if year & 3 == 0 else 0
    if not 1 <= day <= _BEFORE[month] - _BEFORE[month - 1] + (leap if month == 2 else 0):
        return None
    years = year - 2000
    return years * 365 + (years + 3 >> 2) + _BEFORE[month - 1] + (leap if month > 2 else 0) + day - 1


def date_of(day: int) -> tuple[int, int, int]:
    """Year, month and day of a number of days since 2000-01-01."""
    year = 2000 + day * 4 // 1461
    of_year = day - (day_number(year, 1, 1) or 0)
    month = 1
    while month < 12 and of_year >= (day_number(year, month + 1, 1) or 0) - (day_number(year, 1, 1) or 0):
        month += 1
    return year, month, day - (day_number(year, month, 1) or 0) + 1


def _number(bcd: int) -> int:
    return (bcd >> 4) * 10 + (bcd & 15)


def _bcd(number: int) -> int:
    return number // 10 << 4 | number % 10


class ClockChip:
    """A clock chip on a bus that has MicroPython's readfrom_mem and writeto_mem."""

    def __init__(self, bus, name: str) -> None:  # type: ignore[no-untyped-def]
        """Start it. A chip that does not answer is asked again at each reading."""
        self.bus, self.name = bus, name
        self.address, self.time_at, self.date_at, self.controls = _CHIPS[name]
        self._start()

    def _start(self) -> bool:
        try:
            for register, value in self.controls:
                self.bus.writeto_mem(self.address, register, bytes([value]))
        except OSError:
            return False
        return True

    def read(self) -> tuple[int, int, int] | None:
        """Days since 2000-01-01, minute of the day, second; None where it has stopped, is silent or talks nonsense."""
        try:
            raw = self.bus.readfrom_mem(self.address, self.time_at, 7)
            flags = self.bus.readfrom_mem(self.address, _STATUS, 1)[0] if self.name == "ds3231" else raw[0]
        except OSError:
            return None
        second, minute, hour = _number(raw[0] & 0x7F), _number(raw[1] & 0x7F), _number(raw[2] & 0x3F)
        date, month, year = _number(raw[self.date_at] & 0x3F), _number(raw[5] & 0x1F), 2000 + _number(raw[6])
        day = day_number(year, month, date)
        if flags & STOPPED or day is None or second > 59 or minute > 59 or hour > 23:
            return None
        return day, hour * 60 + minute, second

    def set(self, day: int, minute: int, second: int) -> bool:
        """Set it and let it run; False where it does not answer."""
        year, month, date = date_of(day)
        raw = [_bcd(second), _bcd(minute % 60), _bcd(minute // 60), 1, 1, _bcd(month), _bcd(year - 2000)]
        raw[self.date_at] = _bcd(date)
        try:
            self.bus.writeto_mem(self.address, self.time_at, bytes(raw))
            if self.name == "ds3231":
                self.bus.writeto_mem(self.address, _STATUS, b"\0")
        except OSError:
            return False
        return self._start()

    def cell_low(self) -> bool:
        """Whether it says that its own cell is low; only the PCF8523 can."""
        if self.name != "pcf8523":
            return False
        try:
            return bool(self.bus.readfrom_mem(self.address, 0x02, 1)[0] & 0x04)
        except OSError:
            return False
