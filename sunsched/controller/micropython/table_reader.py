"""Reads the table image that sunsched writes, under MicroPython or any other Python from 3.10 on.

FORMAT.md describes every byte. `table --as micropython` copies this file behind the image, without the layouts that it
does not need, into one module. So it imports nothing, allocates little, and keeps to what MicroPython 1.20 has.
"""

# copied from here on
NONE = -32768  # a day on which the door stays down
_NODES = b"\x54\x6e\x7c\x7c\x71\x5f\x4c\x3c\x35\x37\x42\x50\x5c\x5f\x58\x48\x32\x1b\x09\x01\x07\x1b\x39\x59"
_BEFORE = (0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334, 365)


class Table:
    """A table image: when the door opens and closes.

    Minutes count from the chip's midnight of the date; an opening may be negative, a closing may pass 1439. Dates are
    as the image's clock has them (`keeps`: standard, utc or civil); one that it does not cover raises ValueError.
    """

    def __init__(self, image: bytes) -> None:
        """Take an image as bytes. Raises ValueError if a bit of it has changed or it is of another layout."""
        if len(image) < 14 or image[0] != 0xD5 or image[1] not in (1, 2):
            raise ValueError("not a table image of this reader's revisions")
        length = image[3] | image[4] << 8
        if not 14 <= length <= len(image) or _crc(image, length - 2) != image[length - 2] | image[length - 1] << 8:
            raise ValueError("the table image is damaged")
        if image[2] & 15 not in _LAYOUTS:
            raise ValueError("a table image of another layout")
        self.image = image
        self.keeps = ("standard", "utc", "civil")[image[2] >> 4]
        self.first_year = 2000 + image[5]
        self.n_years = image[6]
        self.offset_min = _word(image, 7)
        self._facts = 12 + image[9]
        self._rules = self._facts + image[10]
        self._data = self._rules + image[11]

    def open_min(self, year: int, month: int, day: int) -> int | None:
        """The minute at which the door opens; None on a day when it stays down."""
        return self._minute(0, year, month, day)

    def close_min(self, year: int, month: int, day: int) -> int | None:
        """The minute at which the door should be down; None on a day when it stays down."""
        return self._minute(1, year, month, day)

    def setting(self, number: int, otherwise: int) -> int:
        """A setting by its number in FORMAT.md, counted from 0; `otherwise` where the image has none."""
        return _word(self.image, 12 + 2 * number) if 2 * number + 1 < self.image[9] else otherwise

    def facts(self, year: int, month: int, day: int) -> int:
        """The facts of a day added up: 1 dark expected, 2 light expected, 4 opening and 8 closing by twilight."""
        image, at, today = self.image, self._facts + 2, self._day(year, month, day)
        head = image[at]
        found, since = head & 15, 0
        for n in range(at + (3 if head & 16 else 1), self._rules):
            since += image[n] >> 2
            if since <= today and image[n] >> 2 != 63:
                found ^= 1 << (image[n] & 3)
        if head & 16:
            weekday = _weekday(year, today)
            found &= ~(4 * (image[at + 1] >> weekday & 1) | 8 * (image[at + 2] >> weekday & 1))
        return found

    def midnight_min(self, year: int, month: int, day: int) -> int:
        """Solar midnight after the noon of a date [chip minutes without summer time], within 1.3 min."""
        at = self._day(year, month, day)
        late = _NODES[at >> 4] * (16 - (at & 15)) + _NODES[(at >> 4) + 1] * (at & 15) + 8
        return _word(self.image, self._facts) + (late >> 4) + 2 >> 2

    def _day(self, year: int, month: int, day: int) -> int:
        """Days since 1 January."""
        if not (0 <= year - self.first_year < self.n_years and 1 <= month <= 12):
            raise ValueError("the table has no such date")
        leap = 1 if month > 2 and year & 3 == 0 else 0
        days = _BEFORE[month] - _BEFORE[month - 1] + (1 if month == 2 and year & 3 == 0 else 0)
        if not 1 <= day <= days:
            raise ValueError("the table has no such date")
        return _BEFORE[month - 1] + day - 1 + leap

    def _minute(self, side: int, year: int, month: int, day: int) -> int | None:
        at = self._day(year, month, day)
        minute = _LAYOUTS[self.image[2] & 15](self.image, self._data, side, year, at)
        return self._ruled(side, year, at, minute)

    def _ruled(self, side: int, year: int, day: int, minute: int) -> int | None:
        image, at = self.image, self._rules
        while at < self._data and minute != NONE:
            head = image[at]
            at += 1
            holds = head >> 3 >> side & 1
            if head & 0x80:
                holds &= year == 2000 + image[at]
                at += 1
            if head & 0x20:
                first, end = _rule_day(_word(image, at), year), _rule_day(_word(image, at + 2), year)
                holds &= first <= day < end if first <= end else day >= first or day < end
                at += 4
            if head & 0x40:
                holds &= image[at] >> _weekday(year, day)
                at += 1
            if head & 7 == 4:
                minute = NONE if holds else minute
                continue
            value = _word(image, at)
            at += 2
            if holds:
                minute = (minute + value, max(minute, value), min(minute, value))[(head & 7) - 1]
        return None if minute == NONE else minute


def _word(image: bytes, at: int) -> int:
    return _signed(image[at] | image[at + 1] << 8)


def _signed(word: int) -> int:
    return ((word & 0xFFFF) ^ 0x8000) - 0x8000


def _signed_byte(byte: int) -> int:
    return ((byte & 0xFF) ^ 0x80) - 0x80


def _crc(image: bytes, length: int) -> int:
    crc = 0xFFFF
    for n in range(length):
        crc ^= image[n] << 8
        for _ in range(8):
            crc = (crc << 1 ^ 0x1021 if crc & 0x8000 else crc << 1) & 0xFFFF
    return crc


def _weekday(year: int, day: int) -> int:
    since = year - 2000
    return (since + (since + 3 >> 2) + 5 + day) % 7


def _rule_day(date: int, year: int) -> int:
    day, wanted = date & 511, date >> 9 & 7
    if day > 59 and year & 3:
        day -= 1
    if wanted:
        day += (wanted - 1 - _weekday(year, day)) % 7
    return day


# layout plain
def _plain(image: bytes, data: int, side: int, year: int, day: int) -> int:
    return _word(image, data + 4 * day + 2 * side)


# layout blocks
def _blocks(image: bytes, data: int, side: int, year: int, day: int) -> int:
    at = data + (image[data] | image[data + 1] << 8 if side else 2)
    minute = _word(image, at)
    at += 2
    while day:
        head = image[at]
        width = 16 if head & 15 == 15 else head & 15
        least = ((head >> 4 ^ 8) - 8) << max(width - 4, 0)
        at += 1
        days = min(day, 16)
        for n in range(days):
            for bit in range(n * width, n * width + width):
                minute += (image[at + (bit >> 3)] >> (bit & 7) & 1) << bit - n * width
            minute += least
        at += 2 * width  # 16 differences, whole bytes
        day -= days
    return _signed(minute)


# layout slopes
def _slopes(image: bytes, data: int, side: int, year: int, day: int) -> int:
    at = data + (image[data] | image[data + 1] << 8 if side else 2)
    value, slope, left = _word(image, at), _signed_byte(image[at + 2]), 0
    at += 3
    while day:
        day -= 1
        if not left:
            piece = image[at]
            at += 1
            if not piece:
                value, slope = _word(image, at), _signed_byte(image[at + 2])
                at += 3
                continue
            slope = _signed_byte(slope + (piece >> 4 ^ 8) - 8)
            left = (piece & 15) + 1
        value = _signed(value + slope)
        left -= 1
    return value >> 4


# layouts curves, years
def _curve(image: bytes, data: int, side: int, steps: int, length: int, down: int, shift: int) -> int:
    unit = 1 << (image[data] >> 5)
    start = data + (6 if side else 1)
    slope, curvature = _word(image, start), _signed_byte(image[start + 2])
    value = _word(image, start + 3) * 256 >> down
    at = data + 11
    while steps > 0:
        change = (image[at] >> 4 if side else image[at] & 15) - 8
        curvature = _signed_byte(curvature + change * unit)
        at += 1
        n = min(steps, length)
        # n steps at once: each adds the slope to the value and then the curvature to the slope.
        value += n * slope + (n * (n - 1) >> 1) * curvature
        slope += n * curvature
        steps -= n
    return value >> 8 + shift


# layout curves
def _curves(image: bytes, data: int, side: int, year: int, day: int) -> int:
    return _curve(image, data, side, day, (image[data] & 31) + 1, 1, 1)


# layout years
def _years(image: bytes, data: int, side: int, year: int, day: int) -> int:
    return _curve(image, data, side, 4 * day + (-year & 3), 4 * ((image[data] & 31) + 1), 0, 4)


# every layout
_LAYOUTS = {1: _plain, 2: _blocks, 3: _slopes, 4: _curves, 5: _years}
