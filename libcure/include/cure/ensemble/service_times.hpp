#pragma once
/// When the liners of many cases are fit for service. The packed solver ends with the hold, so
/// these are whole predictions.

#include <cstddef>
#include <exception>
#include <optional>
#include <vector>

#include "cure/compiled.hpp"
#include "cure/ensemble/outcome.hpp"
#include "cure/ensemble/row_plan.hpp"
#include "cure/process/predict.hpp"

namespace cure::ensemble {

/// When each row's liner is fit for service [s], NaN: not within its
/// stages, or not to be computed.
/// @param bladder_out when the bladder comes out, as for process::judge [s]
/// @throws InputError for a plan that makes no sense
CURE_FUNCTION std::vector<double> service_times(RowPlan const& plan,
                                                std::optional<double> bladder_out = std::nullopt);
#if CURE_DEFINES(ENSEMBLE)
CURE_FUNCTION std::vector<double> service_times(RowPlan const& plan,
                                                std::optional<double> bladder_out) {
  detail::check_plan(plan);
  std::vector<double> times(plan.rows, never);
  detail::in_chunks(plan.rows, plan.threads, chunk_rows_predicted, [&] {
    return [&, c = Case()](std::size_t begin, std::size_t end) mutable {
      for (std::size_t i = begin; i < end; ++i) {
        try {
          detail::make_row(plan, i, c);
          if (c.section) c.discretisation.tolerance = row_tolerance;
          times[i] = process::predict_service(c, bladder_out).value_or(never);
        } catch (numerics::Stopped const&) {
          throw;
        } catch (std::exception const&) {
          // It stays as one that never is.
        }
      }
    };
  });
  return times;
}
#endif

}  // namespace cure::ensemble
