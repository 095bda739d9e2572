#pragma once
/// Whether something else than the wall explains the readings as well or better: a wrong clock, or
/// a probe that is not on the wall. The limits are this project's own choice, without a source.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "cure/follow/checks.hpp"

namespace cure::follow::detail {

inline constexpr double wide_clock_sd = 900.0, large_shift = 180.0;  ///< [s]
inline constexpr double better = 6.0;         ///< fall of -ln p for another clock to be believed
inline constexpr double least_ahead = 900.0;  ///< that a clock is ahead at the least [s]
inline constexpr int most_ahead = 24;         ///< how many such are tried
inline constexpr double on_wall = 3.0;        ///< fall of -ln p below that of a probe in the fill
inline constexpr double came_off = 3.0;       ///< fall of -ln p for a lost contact to be believed
inline constexpr double off_shares[] = {0.5, 1.0};
inline constexpr int off_times = 8;

class OtherCauses {
 public:
  /// @param own the most likely values as all is said
  /// @param starts rows to look for other explanations from
  /// @param now_given whether a person gave the time since mixing, which the last reading is near
  /// to
  OtherCauses(Known const& known, Data const& data, Fit const& own, Screened const& screened,
              Rows const& starts, bool now_given)
      : known_(known),
        data_(data),
        own_(own),
        screened_(screened),
        starts_(starts),
        now_given_(now_given) {}

  Statements run() const {
    auto out = clock();
    for (auto& s : contact()) out.push_back(std::move(s));
    return out;
  }

 private:
  /// Whether the logger's clock counts from another moment than mixing, or in another unit.
  [[nodiscard]] Statements clock() const {
    Ways ways{.clock_sd = wide_clock_sd};
    for (int i = -6; i <= 6; ++i) ways.clocks.push_back(300.0 * i);
    auto const other = fit(known_, data_, starts_, ways);
    double const shift = wide_clock_sd * other.x(other.x.size() - 1);
    // A free clock costs nothing by itself.
    if (std::abs(shift) > large_shift && own_.total() - other.total(true) > better) {
      return {{"clock", "The readings fit better if their times are some " +
                            number(std::abs(shift) / 60.0) + " min too " +
                            (shift < 0.0 ? "late" : "early") + ". Do they count from mixing?"}};
    }
    auto out = ahead();
    return out.empty() ? held_too_early() : out;
  }

  /// A clock that counts from long before mixing, or minutes that are seconds, make a cold wall a
  /// cured one. Late readings of a wall at rest look the same at any time: then only a person's
  /// clock can tell.
  [[nodiscard]] Statements ahead() const {
    auto const begin = known_.job.held().first;
    double best_total = std::numeric_limits<double>::infinity();
    std::string words;
    Data best = data_;
    auto const attempt = [&](std::string said, Eigen::VectorXd times) {
      Data moved = data_;
      moved.t = std::move(times);
      double const total = least_total(known_, moved, starts_, best_total);
      if (!(total < best_total)) return;
      best_total = total;
      words = std::move(said);
      best = std::move(moved);
    };
    double const most = data_.t(0) - begin - settling;
    for (int i = 0; most > least_ahead && i < most_ahead; ++i) {
      double const by = least_ahead + (most - least_ahead) * i / (most_ahead - 1);
      attempt("run " + number(by / 60.0) + " min ahead", (data_.t.array() - by).matrix());
    }
    if (data_.t(0) / 60.0 > begin) attempt("are seconds", data_.t / 60.0);
    if (words.empty()) return {};
    double const gain = own_.total() - fit(known_, best, starts_).total();
    if (gain > better) {
      return {{"clock", "The readings fit better if their times " + words +
                            ". Do they count from mixing, in the unit of their heading?"}};
    }
    if (gain > -better && !now_given_) {
      return {{"clock", "The readings fit as well if their times " + words +
                            ", and the job is younger than they say. Give the time since mixing by "
                            "another clock (--now)."}};
    }
    return {};
  }

  /// Readings from before the liner is held that are those of one that is held: the clock was
  /// started late.
  [[nodiscard]] Statements held_too_early() const {
    double const begin = known_.job.held().first;
    auto early = screened_.with("before_held");
    std::erase_if(early, [&](Eigen::Index i) { return !(screened_.time(i) < begin); });
    if (early.size() < 3) return {};
    Eigen::VectorXd const t = screened_.time(early), T = screened_.temperature(early);
    double const shift = begin + settling - t(0);
    if (shift < large_shift) return {};
    auto const moved = all_later(t, T, shift);
    auto const other = fit(known_, moved, starts_);
    std::vector<double> z_held;
    for (Eigen::Index i = 0; i < moved.size() && moved.t(i) < shift + data_.t(0); ++i) {
      z_held.push_back(std::abs(other.z(i)));
    }
    double const as_held = median(z_held);
    // What they should be: the wet liner's, or the air's.
    RowMatrix const x = own_.x.transpose();
    Eigen::VectorXd const wet = known_.job.traces(x, known_.grid).row(0).transpose();
    double const probe = nuisances[0].sd * own_.x(known_.job.unknowns());
    double const as_said =
        std::min(median_off(t, T, wet, probe), median_off(t, T, known_.medium, 0.0));
    double const cost = own_.total() / data_.worth(), cost_moved = other.total() / moved.worth();
    if (as_held < std::min(largest_middle, as_said) && cost_moved < 1.25 * cost + 0.1) {
      return {{"clock", "The readings before " + number(begin / 60.0) +
                            " min look like those of a liner that is held already. Was the "
                            "logger's clock started then, and not at mixing?"}};
    }
    return {};
  }

  /// All of the log, later by what makes its first reading one of the held liner.
  [[nodiscard]] Data all_later(Eigen::VectorXd const& t, Eigen::VectorXd const& T,
                               double shift) const {
    Eigen::VectorXd times(t.size() + data_.size()), temperatures(times.size());
    times << t, data_.t;
    temperatures << T, data_.T;
    auto moved = weigh(times.array() + shift, temperatures, 0.0);
    auto const inside =
        std::upper_bound(moved.t.begin(), moved.t.end(), known_.grid(known_.grid.size() - 1)) -
        moved.t.begin();
    for (auto* column : {&moved.t, &moved.T, &moved.weight}) column->conservativeResize(inside);
    moved.sd = data_.sd;
    return moved;
  }

  /// Median distance of readings from temperatures at the grid, over the standard deviation.
  [[nodiscard]] double median_off(Eigen::VectorXd const& t, Eigen::VectorXd const& T,
                                  Eigen::VectorXd const& there, double probe) const {
    Walk walk(known_.grid);
    std::vector<double> off;
    for (Eigen::Index i = 0; i < t.size(); ++i) {
      off.push_back(std::abs(T(i) - walk.to(t(i)).of(there) - probe) / data_.sd);
    }
    return median(off);
  }

  /// Whether the probe lies on the wall: one that has come off shows the fill, or something
  /// between.
  [[nodiscard]] Statements contact() const {
    if (!screened_.with("fallen_off").empty()) {
      return {{"contact",
               "The probe has come off at least once: what it shows besides may be as wrong."}};
    }
    double const first = data_.t(0) - 3600.0, own = own_.total();
    auto const always = fit(known_, data_, starts_, {.offs = {Off{first, 1.0}}});
    if (own > always.total() - on_wall) {
      return {{"contact",
               "The readings look like those of a probe in the fill of the bladder as much as of "
               "one in the wall. Has the probe come off? Does it lie where it says?"}};
    }
    Ways ways{.offs = {Off{first, off_shares[0]}}};
    std::vector<double> times(data_.t.begin(), data_.t.end());
    for (int i = 0; i < off_times; ++i) {
      double const since = linear_quantile(times, 0.9 * i / (off_times - 1));
      for (double const share : off_shares) ways.offs.push_back(Off{since, share});
    }
    auto const other = fit(known_, data_, starts_, ways);
    if (!(own > other.total() + came_off)) return {};
    double const since = other.off->since;
    return {
        {"contact", "The readings fit better if the probe has lost its contact" +
                        (since > data_.t(0) ? " from " + number(since / 60.0) + " min on" : "") +
                        " and shows the fill of the bladder. Has it come off?"}};
  }

  Known const& known_;
  Data const& data_;
  Fit const& own_;
  Screened const& screened_;
  Rows const& starts_;
  bool now_given_;
};

}  // namespace cure::follow::detail
