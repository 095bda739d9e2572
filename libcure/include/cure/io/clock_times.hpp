#pragma once
/// Times as loggers write them, and the time since mixing that they come to.
///
/// A time of day is h:mm or h:mm:ss, with fractions, and with am or pm; a date is ISO 8601,
/// d.m.y, d/m/y or d-m-y, or m/d/y where only that can be. Where the rows leave the order of a date
/// open, the one that lets them span the fewest days holds. A log without dates passes midnight
/// where the time of day falls by more than half a day. Zones are read and left alone: all times,
/// and that of mixing, are by the logger's clock.

#include <Eigen/Core>
#include <algorithm>
#include <array>
#include <chrono>
#include <cmath>
#include <cstddef>
#include <limits>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "cure/error.hpp"
#include "cure/io/csv_table.hpp"
#include "cure/io/near_words.hpp"
#include "cure/numerics/maps.hpp"

namespace cure::io {

inline constexpr double one_day = 86400.0;  ///< [s]

/// A moment as it was written.
struct Stamp {
  struct Part {
    int value = 0;
    std::size_t digits = 0;
  };
  std::optional<std::array<Part, 3>> date = {};  ///< in the order of the text
  std::optional<double> time_of_day = {};        ///< [s]
  bool zone = false;                             ///< whether a zone was given
};

namespace detail {

/// A text in lower case that is read from the left.
class Cursor {
 public:
  explicit Cursor(std::string_view text) : text_(lower(trimmed(text))), rest_(text_) {}
  Cursor(Cursor const&) = delete;
  Cursor& operator=(Cursor const&) = delete;

  [[nodiscard]] bool done() const { return rest_.empty(); }
  [[nodiscard]] std::string_view rest() const { return rest_; }
  void back_to(std::string_view rest) { rest_ = rest; }

  bool eat(std::string_view word) {
    if (!rest_.starts_with(word)) return false;
    rest_.remove_prefix(word.size());
    return true;
  }
  void skip(std::string_view letters) {
    rest_.remove_prefix(std::min(rest_.find_first_not_of(letters), rest_.size()));
  }
  /// A whole number of at most so many digits.
  std::optional<Stamp::Part> digits(std::size_t most) {
    auto const count = std::min(rest_.find_first_not_of("0123456789"), rest_.size());
    if (count == 0 || count > most) return std::nullopt;
    int value = 0;
    for (char const c : rest_.substr(0, count)) value = 10 * value + (c - '0');
    rest_.remove_prefix(count);
    return Stamp::Part{value, count};
  }

 private:
  std::string text_;
  std::string_view rest_;
};

inline std::optional<std::array<Stamp::Part, 3>> date_in(Cursor& c) {
  auto const begin = c.rest();
  auto const first = c.digits(4);
  for (std::string_view const between : {".", "/", "-"}) {
    if (!first || !c.eat(between)) continue;
    auto const second = c.digits(2);
    auto const third = second && c.eat(between) ? c.digits(4) : std::nullopt;
    if (third) return std::array{*first, *second, *third};
    break;
  }
  c.back_to(begin);
  return std::nullopt;
}

/// Minutes, seconds and what is left of one, after the hours [s]; nothing where it is no time.
inline std::optional<double> after_hours(Cursor& c) {
  if (!c.eat(":")) return std::nullopt;
  auto const minutes = c.digits(2);
  if (!minutes || minutes->digits != 2 || minutes->value > 59) return std::nullopt;
  double seconds = 60.0 * minutes->value;
  if (!c.eat(":")) return seconds;
  auto const whole = c.digits(2);
  if (!whole || whole->digits != 2 || whole->value > 59) return std::nullopt;
  seconds += whole->value;
  if (c.eat(".") || c.eat(",")) {
    auto const part = c.digits(9);
    if (!part) return std::nullopt;
    seconds += part->value * std::pow(10.0, -static_cast<double>(part->digits));
  }
  return seconds;
}

inline std::optional<double> time_of_day_in(Cursor& c) {
  auto const hours = c.digits(2);
  auto const rest = hours ? after_hours(c) : std::nullopt;
  if (!rest) return std::nullopt;
  int hour = hours->value;
  auto const before = c.rest();
  c.skip(" ");
  for (std::string_view const half : {"a.m.", "p.m.", "am", "pm"}) {
    if (!c.eat(half)) continue;
    if (hour < 1 || hour > 12) return std::nullopt;
    hour = hour % 12 + (half.front() == 'p' ? 12 : 0);
    return 3600.0 * hour + *rest;
  }
  c.back_to(before);
  if (hour > 23) return std::nullopt;
  return 3600.0 * hour + *rest;
}

/// Whether a zone such as z, utc or +01:00 was next.
inline bool zone_in(Cursor& c) {
  bool found = c.eat("z");
  for (std::string_view const name : {"utc", "gmt"}) found = found || c.eat(name);
  auto const before = c.rest();
  if (c.eat("+") || c.eat("-")) {
    auto const hours = c.digits(4);
    if (hours && (!c.eat(":") || c.digits(2))) return true;
    c.back_to(before);
  }
  return found;
}

/// Places of year, month and day in a date.
struct DateOrder {
  std::size_t year, month, day;
};
inline constexpr std::array<DateOrder, 3> date_orders{{{0, 1, 2}, {2, 1, 0}, {2, 0, 1}}};

/// Days of a date since 1970; nothing where it is none in that order.
inline std::optional<double> days_of(std::array<Stamp::Part, 3> const& parts,
                                     DateOrder const& order) {
  auto const year = parts[order.year], month = parts[order.month], day = parts[order.day];
  if (year.digits != 2 && year.digits != 4) return std::nullopt;
  if (month.digits > 2 || day.digits > 2) return std::nullopt;
  std::chrono::year_month_day const date(
      std::chrono::year(year.value + (year.digits == 2 ? 2000 : 0)),
      std::chrono::month(static_cast<unsigned>(month.value)),
      std::chrono::day(static_cast<unsigned>(day.value)));
  if (!date.ok()) return std::nullopt;
  return static_cast<double>(std::chrono::sys_days(date).time_since_epoch().count());
}

}  // namespace detail

/// A moment, or a date or a time of day alone; nothing where the text is none.
inline std::optional<Stamp> stamp_of(std::string_view text) {
  detail::Cursor c(text);
  Stamp s;
  s.date = detail::date_in(c);
  if (s.date) {
    c.skip(" ,");
    if (c.eat("t")) c.skip(" ");
  }
  if (!c.done()) {
    s.time_of_day = detail::time_of_day_in(c);
    c.skip(" ");
    s.zone = s.time_of_day && detail::zone_in(c);
  }
  if (!c.done() || (!s.date && !s.time_of_day)) return std::nullopt;
  return s;
}

/// A time that has gone by, h:mm or h:mm:ss with any number of hours [s]; NaN where it is none.
inline double elapsed_in(std::string_view text) {
  detail::Cursor c(text);
  auto const hours = c.digits(4);
  auto const rest = hours ? detail::after_hours(c) : std::nullopt;
  return rest && c.done() ? 3600.0 * hours->value + *rest
                          : std::numeric_limits<double>::quiet_NaN();
}

namespace detail {

/// Days of rows with dates; NaN where a row has none, or none that can be.
inline std::vector<double> days_by_date(std::vector<std::optional<Stamp>> const& rows,
                                        std::optional<double> near) {
  std::vector<double> best(rows.size(), std::numeric_limits<double>::quiet_NaN());
  std::size_t most = 0;
  double shortest = std::numeric_limits<double>::infinity();
  for (auto const& order : date_orders) {
    std::vector<double> days(rows.size(), std::numeric_limits<double>::quiet_NaN());
    std::size_t found = 0;
    double first = near.value_or(std::numeric_limits<double>::infinity());
    double last = near.value_or(-std::numeric_limits<double>::infinity());
    for (std::size_t i = 0; i < rows.size(); ++i) {
      auto const day = rows[i] && rows[i]->date ? days_of(*rows[i]->date, order) : std::nullopt;
      if (!day) continue;
      ++found;
      days[i] = *day;
      first = std::min(first, *day);
      last = std::max(last, *day);
    }
    // Of orders that do as well, the day first is the usual one.
    bool const as_good = order.day == 0 ? last - first <= shortest : last - first < shortest;
    if (found == 0 || found < most || (found == most && !as_good)) continue;
    best = days;
    most = found;
    shortest = last - first;
  }
  return best;
}

/// Days of rows without dates, from 0: each is next to the row before it.
inline std::vector<double> days_by_order(std::vector<std::optional<Stamp>> const& rows) {
  std::vector<double> days(rows.size(), 0.0);
  double day = 0.0;
  std::optional<double> before;
  for (std::size_t i = 0; i < rows.size(); ++i) {
    if (!rows[i] || !rows[i]->time_of_day) continue;
    double const now = *rows[i]->time_of_day;
    if (before) day -= std::round((now - *before) / one_day);
    days[i] = day;
    before = now;
  }
  return days;
}

}  // namespace detail

/// Times since mixing [s]; NaN where a row has none.
/// @param mixed_at time of day of mixing by the logger's clock, with its date if need be
/// @throws InputError where it is no such time, or more than one moment of the log may be meant
inline Eigen::VectorXd since_mixing(std::vector<std::optional<Stamp>> const& rows,
                                    std::string const& mixed_at, std::string const& file) {
  auto const refuse = [&](std::string const& why, std::string const& allowed) {
    throw InputError("mixed_at", "\"" + mixed_at + "\"" + why, allowed, file);
  };
  auto const mixed = stamp_of(mixed_at);
  if (!mixed || !mixed->time_of_day) {
    refuse("", "a time of day such as 22:30, or with its date, such as 2026-03-24 22:30");
  }
  std::optional<double> mixed_day;
  if (mixed->date) mixed_day = detail::days_by_date({mixed}, {}).front();
  bool const dated = std::any_of(rows.begin(), rows.end(),
                                 [](auto const& r) { return r && r->date && r->time_of_day; });
  if (mixed_day && std::isnan(*mixed_day)) refuse("", "a date that there is");
  if (mixed_day && !dated) refuse(", but the log has no dates", "a time of day such as 22:30");
  auto const days = dated ? detail::days_by_date(rows, mixed_day) : detail::days_by_order(rows);
  Eigen::VectorXd times(numerics::index(rows.size()));
  double first = std::numeric_limits<double>::quiet_NaN(), last = first;
  for (std::size_t i = 0; i < rows.size(); ++i) {
    double const t = rows[i] && rows[i]->time_of_day && (!dated || rows[i]->date)
                         ? days[i] * one_day + *rows[i]->time_of_day
                         : std::numeric_limits<double>::quiet_NaN();
    times(numerics::index(i)) = t;
    if (std::isnan(t)) continue;
    first = std::fmin(first, t);
    last = std::fmax(last, t);
  }
  if (std::isnan(first)) return times;
  if (mixed_day) return times.array() - (*mixed_day * one_day + *mixed->time_of_day);
  // The first moment of that time of day from half a day before the first row on. One a day later
  // may be meant where the log reaches it, and would let the bladder out a day later.
  double const after = first - 0.5 * one_day - *mixed->time_of_day;
  double const moment = *mixed->time_of_day + (std::floor(after / one_day) + 1.0) * one_day;
  if (moment + one_day <= last) {
    refuse(" comes twice in the log", dated ? "the time with its date, such as 2026-03-24 22:30"
                                            : "a log with dates, or one that ends within a day");
  }
  return times.array() - moment;
}

}  // namespace cure::io
