#pragma once
/// Readings on their way through the faults that are looked for.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "cure/follow/readings.hpp"
#include "cure/follow/words.hpp"

namespace cure::follow::detail {

using Indices = std::vector<Eigen::Index>;

class Screening {
 public:
  explicit Screening(Readings const& readings) {
    for (auto const& text : readings.left_out) s_.statements.push_back({"left_out", text});
    sort(readings);
  }

  Screened done() { return std::move(s_); }

  /// Those that nothing is wrong with so far.
  [[nodiscard]] Indices good() const { return s_.with(used); }
  [[nodiscard]] double t(Eigen::Index i) const { return s_.time(i); }
  [[nodiscard]] double T(Eigen::Index i) const { return s_.temperature(i); }

  /// Leaves readings out. @param code of static storage, @param text with {many} and {at}
  void mark(Indices const& index, std::string_view code, std::string const& text) {
    if (index.empty()) return;
    std::vector<double> times;
    for (auto const i : index) {
      s_.status[static_cast<std::size_t>(i)] = code;
      times.push_back(t(i));
    }
    auto words = replaced(text, "{many}", many(index.size(), "reading"));
    words = replaced(std::move(words), "{at}", at_times(times));
    s_.statements.push_back({std::string(code), std::move(words), index.size()});
  }
  /// The same of good readings. @param bad (time, temperature) -> bool
  template <class Bad>
  void mark_good(std::string_view code, std::string const& text, Bad const& bad) {
    auto index = good();
    std::erase_if(index, [&](Eigen::Index i) { return !bad(t(i), T(i)); });
    mark(index, code, text);
  }

 private:
  /// By time; the order in the file must not matter, also among equal times.
  void sort(Readings const& r) {
    Indices order;
    std::size_t out_of_order = 0;
    double before = -std::numeric_limits<double>::infinity();
    for (Eigen::Index i = 0; i < r.time.size(); ++i) {
      if (!std::isfinite(r.time(i))) continue;
      order.push_back(i);
      if (r.time(i) < before) ++out_of_order;
      before = r.time(i);
    }
    auto const T = [&](Eigen::Index i) {
      // What is no number comes last.
      return std::isfinite(r.temperature(i)) ? r.temperature(i)
                                             : std::numeric_limits<double>::infinity();
    };
    std::stable_sort(order.begin(), order.end(), [&](Eigen::Index a, Eigen::Index b) {
      return std::pair(r.time(a), T(a)) < std::pair(r.time(b), T(b));
    });
    s_.time = r.time(order);
    s_.temperature = r.temperature(order);
    for (double& x : s_.temperature) {
      if (!std::isfinite(x)) x = std::numeric_limits<double>::quiet_NaN();
    }
    s_.status.assign(order.size(), used);
    if (auto const lost = r.size() - order.size(); lost > 0) {
      s_.statements.push_back({"no_time", many(lost, "row") + " without a time; not used.", lost});
    }
    if (out_of_order > 0) {
      s_.statements.push_back({"unsorted",
                               many(out_of_order, "time") +
                                   " out of order in the file; the readings were sorted by time.",
                               out_of_order});
    }
  }

  Screened s_;
};

}  // namespace cure::follow::detail
