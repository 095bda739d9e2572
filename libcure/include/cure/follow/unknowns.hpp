#pragma once
/// What is not known of a job that runs, and what the model makes of it.
///
/// Rows are standard normal numbers theta: the first columns are the stated inputs, the others the
/// constants of the resin by its covariance. Both go through the models of every other command:
/// ensemble::traces for temperatures, ensemble::simulate_many for times.

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <limits>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "cure/decide/ranges.hpp"
#include "cure/ensemble/simulate_many.hpp"
#include "cure/ensemble/traces.hpp"
#include "cure/follow/assumptions.hpp"
#include "cure/follow/grid.hpp"
#include "cure/uncertain/moved_inputs.hpp"

namespace cure::follow {

using process::Case;

/// Resins of rows, and which rows have constants that a resin may have; without a covariance none:
/// all rows have the case's.
struct RowResins {
  std::vector<kinetics::Resin<double>> resins;
  std::vector<bool> may_be;
};

class Job {
 public:
  /// @param c must outlive it. @param stated checked by uncertain::validate
  /// @throws InputError without a held stage, or without anything unknown
  Job(Case const& c, process::Place at, uncertain::Stated stated, std::size_t threads)
      : case_(c),
        at_(std::move(at)),
        stated_(std::move(stated)),
        threads_(threads),
        held_(ensemble::needed_hold(c)) {
    auto const& resin = c.uncertain_resin;
    if (stated_.constants) constants_ = numerics::index(resin.dimensions);
    auto const& speed = ensemble::find_input("resin.rate_factor");
    bool const told = std::any_of(
        stated_.inputs.begin(), stated_.inputs.end(), [&](uncertain::StatedInput const& i) {
          return std::find(i.moves.begin(), i.moves.end(), &speed) != i.moves.end();
        });
    bool const exact = !resin.known() || !resin.whole;
    if (stated_.constants && exact && !told) {
      stated_.inputs.push_back(speed_of_cure());
      speed_assumed_ = true;
    }
    if (unknowns() == 0) {
      throw InputError("uncertain", "nothing", "at least one uncertain input");
    }
  }
  Job(Case const&&, process::Place, uncertain::Stated, std::size_t) = delete;

  [[nodiscard]] Case const& its_case() const { return case_; }
  [[nodiscard]] std::pair<double, double> const& held() const { return held_; }  ///< [s]
  [[nodiscard]] std::vector<uncertain::StatedInput> const& inputs() const { return stated_.inputs; }
  /// Whether the last of the inputs is this project's, because the resin's speed would be exact.
  [[nodiscard]] bool speed_assumed() const { return speed_assumed_; }
  [[nodiscard]] bool has_constants() const { return constants_ > 0; }
  [[nodiscard]] Eigen::Index input_count() const { return numerics::index(stated_.inputs.size()); }
  [[nodiscard]] Eigen::Index unknowns() const { return input_count() + constants_; }
  /// Of a column of theta, and of the nuisances behind them.
  [[nodiscard]] std::string title(Eigen::Index column) const {
    if (column < input_count()) return stated_.inputs[static_cast<std::size_t>(column)].title;
    if (column < unknowns()) return "Constants of the resin";
    return nuisances[static_cast<std::size_t>(column - unknowns())].title;
  }

  /// Offsets and factors of rows. @param theta (rows x unknowns or more)
  [[nodiscard]] uncertain::MovedInputs moved(RowMatrix const& theta) const {
    return uncertain::moved_inputs(
        stated_, theta.leftCols(input_count()).unaryExpr(&uncertain::normal_probability));
  }

  /// How much warmer the fill of each row is than the case says [K].
  [[nodiscard]] Eigen::VectorXd fill_offset(RowMatrix const& theta) const {
    auto const m = moved(theta);
    auto const* fill = &ensemble::find_input("fill_temperature_offset_K");
    auto const found = std::find(m.inputs.begin(), m.inputs.end(), fill);
    if (found == m.inputs.end()) return Eigen::VectorXd::Zero(theta.rows());
    return m.matrix().row(found - m.inputs.begin()).transpose();
  }

  [[nodiscard]] RowResins resins(RowMatrix const& theta) const {
    RowResins r;
    if (!has_constants()) return r;
    std::vector<double> z(static_cast<std::size_t>(constants_));
    for (Eigen::Index i = 0; i < theta.rows(); ++i) {
      numerics::may_stop(20'000);  // a document is read anew
      for (std::size_t d = 0; d < z.size(); ++d)
        z[d] = theta(i, input_count() + numerics::index(d));
      try {
        r.resins.push_back(case_.uncertain_resin.draw(z));
        r.may_be.push_back(true);
      } catch (InputError const&) {
        r.resins.push_back(case_.resin);
        r.may_be.push_back(false);
      }
    }
    return r;
  }

  /// Temperatures (rows x times) at the probe's place [K]; NaN in a row that cannot be computed.
  [[nodiscard]] RowMatrix traces(RowMatrix const& theta, Eigen::VectorXd const& times) const {
    return traces(theta, times, resins(theta), at_);
  }
  [[nodiscard]] RowMatrix traces(RowMatrix const& theta, Eigen::VectorXd const& times,
                                 RowResins const& r, process::Place const& place) const {
    Filled<ensemble::TracePlan> rows(*this, case_, theta, r);
    rows.plan.place = place;
    rows.plan.times = {times.data(), static_cast<std::size_t>(times.size())};
    RowMatrix found = ensemble::traces(rows.plan).temperatures();
    for (std::size_t i = 0; i < r.may_be.size(); ++i) {
      if (!r.may_be[i]) {
        found.row(numerics::index(i)).setConstant(std::numeric_limits<double>::quiet_NaN());
      }
    }
    return found;
  }

  /// What a probe would read that hung free beside the liner, the case being as it says [K]: the
  /// air, then the fill.
  [[nodiscard]] Eigen::VectorXd medium(Eigen::VectorXd const& times) const {
    RowMatrix const nominal = RowMatrix::Zero(1, unknowns());
    return traces(nominal, times, resins(nominal), process::Place::medium).row(0).transpose();
  }

  /// Times of rows, held for as long as decide::ranges looks.
  [[nodiscard]] std::vector<ensemble::Outcome> outcomes(RowMatrix const& theta) const {
    auto const looked_at = decide::detail::looked_at(case_);
    auto const r = resins(theta);
    return ensemble::simulate_many(Filled<ensemble::Plan>(*this, looked_at, theta, r).plan);
  }

  /// Rate of cure of each row's resin over that of the case's.
  [[nodiscard]] Eigen::VectorXd speed(RowMatrix const& theta) const {
    auto const rate = [](kinetics::Resin<double> const& resin) {
      auto state = resin.rate.initial(speed_alpha);
      std::vector<double> slopes(state.size());
      resin.rate.slopes(speed_temperature, state.data(), slopes.data());
      return slopes[0];
    };
    auto const r = resins(theta);
    Eigen::VectorXd found(theta.rows());
    for (std::size_t i = 0; i < r.resins.size(); ++i) {
      found(numerics::index(i)) = rate(r.resins[i]) / rate(case_.resin);
    }
    return found;
  }

 private:
  /// A plan with what it points to.
  template <class Plan>
  struct Filled {
    uncertain::MovedInputs moved;
    std::vector<std::int64_t> resin_of;
    Plan plan;

    Filled(Job const& job, Case const& base, RowMatrix const& theta, RowResins const& r)
        : moved(job.moved(theta)) {
      plan.base = &base;
      plan.inputs = moved.inputs;
      plan.values = moved.values;
      plan.rows = static_cast<std::size_t>(theta.rows());
      plan.threads = job.threads_;
      for (std::size_t i = 0; i < r.resins.size(); ++i) {
        plan.resins.push_back(&r.resins[i]);
        resin_of.push_back(static_cast<std::int64_t>(i));
      }
      plan.resin_of = resin_of;
    }
    Filled(Filled const&) = delete;
    Filled& operator=(Filled const&) = delete;
  };

  Case const& case_;
  process::Place at_;
  uncertain::Stated stated_;
  std::size_t threads_;
  std::pair<double, double> held_;
  Eigen::Index constants_ = 0;  ///< normal numbers that they take
  bool speed_assumed_ = false;
};

}  // namespace cure::follow
