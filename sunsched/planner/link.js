// A year's days by their row, and the link that holds a setting and names one of them.
class Days {
  // `first` of a year's days: year, month from 1, day.
  static rowOf(first, day) {
    return Math.round((Date.parse(day) - Date.UTC(first[0], first[1] - 1, first[2])) / DAY_MS);
  }

  static dayOf(first, row) {
    return new Date(Date.UTC(first[0], first[1] - 1, first[2]) + row * DAY_MS).toISOString().slice(0, 10);
  }

  // The same day of another year; 29 February becomes the 28th, whether or not that year has one.
  static inYear(day, year) {
    return year + "-" + (day.slice(5) === "02-29" ? "02-28" : day.slice(5));
  }
}

class Link {
  // What stands behind the #: year, day, and each key that is not as in the file.
  static of(now, fields) {
    const changed = fields.filter(({ key }) => now.answer.fields[key].given !== now.fileShown[key].given);
    return "#" + new URLSearchParams([["year", now.year], ["day", now.day], ...changed.map(({ key }) => [key, now.answer.fields[key].given])]);
  }

  // Year, day and keys of a link; year and day stay as they are where it names none that the planner has.
  static read(hash, now, begun) {
    const asked = new URLSearchParams(hash.slice(1));
    const known = new Set(begun.fields.map((field) => field.key));
    const wanted = Number(asked.get("year")), date = asked.get("day") || "";
    const year = Number.isInteger(wanted) && wanted >= begun.years[0] && wanted <= begun.years[1] ? wanted : now.year;
    let day = /^\d{4}-\d\d-\d\d$/.test(date) && !Number.isNaN(Date.parse(date)) ? date : now.day;
    if (!day.startsWith(year + "-")) day = Days.inYear(day, year);
    return { year, day, typed: Object.fromEntries([...asked].filter(([key]) => known.has(key))) };
  }
}
