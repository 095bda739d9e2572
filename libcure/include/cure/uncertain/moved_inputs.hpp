#pragma once
/// From points of the unit cube to the inputs of an ensemble.

#include <Eigen/Core>
#include <algorithm>
#include <cstddef>
#include <vector>

#include "cure/compiled.hpp"
#include "cure/ensemble/inputs.hpp"
#include "cure/numerics/maps.hpp"
#include "cure/uncertain/stated.hpp"

namespace cure::uncertain {

/// What the points of stated inputs make of the inputs of an ensemble.
struct MovedInputs {
  std::vector<ensemble::Input const*> inputs;
  std::vector<double> values;  ///< input by input, a number a sample

  /// The values (inputs x samples) where they stand.
  [[nodiscard]] numerics::RowMap matrix() const {
    auto const samples = inputs.empty() ? 0 : values.size() / inputs.size();
    return numerics::row_map(values, samples, 0, samples);
  }
};

/// Two causes of one effect add up, or multiply.
/// @param u points (samples, columns) of the unit cube; the first columns are the inputs'
CURE_FUNCTION MovedInputs moved_inputs(Stated const& stated, Eigen::MatrixXd const& u);
#if CURE_DEFINES(ENSEMBLE)
CURE_FUNCTION MovedInputs moved_inputs(Stated const& stated, Eigen::MatrixXd const& u) {
  MovedInputs m;
  auto const samples = static_cast<std::size_t>(u.rows());
  for (std::size_t j = 0; j < stated.inputs.size(); ++j) {
    auto const& input = stated.inputs[j];
    for (auto const* move : input.moves) {
      auto const found = std::find(m.inputs.begin(), m.inputs.end(), move);
      auto const at = static_cast<std::size_t>(found - m.inputs.begin());
      if (found == m.inputs.end()) {
        m.inputs.push_back(move);
        m.values.resize(m.values.size() + samples, move->is_factor() ? 1.0 : 0.0);
      }
      for (std::size_t i = 0; i < samples; ++i) {
        double const x = input.value(u(numerics::index(i), numerics::index(j)));
        double& v = m.values[at * samples + i];
        v = move->is_factor() ? v * x : v + x;
      }
    }
  }
  return m;
}
#endif

}  // namespace cure::uncertain
