#pragma once
/// The same job many times over, with what is not known exactly.

#include <cmath>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <utility>
#include <variant>
#include <vector>

#include "cure/ensemble/service_times.hpp"
#include "cure/ensemble/simulate_many.hpp"
#include "cure/kinetics/uncertain_resin.hpp"
#include "cure/numerics/maps.hpp"
#include "cure/uncertain/sobol.hpp"
#include "cure/uncertain/stated.hpp"

namespace cure::uncertain {

/// Samples of a case: the rows of an ensemble. Holds what the plans point to, so it is neither
/// copied nor moved.
class Samples {
 public:
  /// @param c must outlive the samples. @param count a power of two
  /// @throws InputError
  Samples(process::Case const& c, Stated const& stated, std::size_t count)
      : case_(c), count_(count) {
    auto const& resin = c.uncertain_resin;
    bool const constants = stated.constants && resin.known();
    // One set of points for inputs and constants: two sets share their sequence and are not
    // independent.
    auto const u =
        unit_points(stated.inputs.size() + (constants ? resin.dimensions : 0), count, stated.seed);
    moved_ = moved_inputs(stated, u);
    if (!constants) return;
    resins_ =
        resin.draws(u.rightCols(numerics::index(resin.dimensions)).unaryExpr(&normal_quantile));
    for (std::size_t i = 0; i < count; ++i) resin_of_.push_back(static_cast<std::int64_t>(i));
  }
  Samples(process::Case const&&, Stated const&, std::size_t) = delete;
  Samples(Samples const&) = delete;
  Samples& operator=(Samples const&) = delete;

  [[nodiscard]] std::size_t count() const { return count_; }

  [[nodiscard]] std::vector<ensemble::Outcome> outcomes(std::size_t threads = 0) const {
    ensemble::Plan plan;
    fill(plan, threads);
    return ensemble::simulate_many(plan);
  }

  /// When each is fit for service [s]; NaN: not within its stages.
  /// @param bladder_out when the bladder comes out [s]
  [[nodiscard]] std::vector<double> service_times(std::optional<double> bladder_out,
                                                  std::size_t threads = 0) const {
    ensemble::RowPlan plan;
    fill(plan, threads);
    return ensemble::service_times(plan, bladder_out);
  }

 private:
  void fill(ensemble::RowPlan& plan, std::size_t threads) const {
    plan.base = &case_;
    plan.inputs = moved_.inputs;
    plan.values = moved_.values;
    plan.rows = count_;
    for (auto const& resin : resins_) plan.resins.push_back(&resin);
    plan.resin_of = resin_of_;
    plan.threads = threads;
  }

  process::Case const& case_;
  std::size_t count_;
  MovedInputs moved_;
  std::vector<kinetics::Resin<double>> resins_;
  std::vector<std::int64_t> resin_of_;
};

}  // namespace cure::uncertain
