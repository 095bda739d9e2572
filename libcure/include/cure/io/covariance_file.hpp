#pragma once
/// The `covariance` of a resin document: how uncertain its constants are together. The matrix is of
/// the value in the quantity's own unit where a parameter's scale is "linear", of ln(value) where
/// it is "log", and of ln((value - low)/(high - value)) where it is "logit", low and high being the
/// limits that the reader of the document sets (`Limits`). So no draw leaves what a value may be:
/// the scales follow the limits, and one whose limits lie within `drawn_within` standard deviations
/// of the value is refused.

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <iterator>
#include <string>
#include <utility>
#include <vector>

#include "cure/io/quantity.hpp"
#include "cure/numerics/maps.hpp"
#include "cure/uncertain/covariance.hpp"

namespace cure::io {

/// The scales on which constants are drawn.
inline constexpr char const* covariance_scales[] = {"linear", "log", "logit"};

/// A value whose scale has moved by `change`; both in the value's own unit. A value that is not
/// inside limits which its scale needs gives NaN.
inline double drawn(std::string const& scale, Range const& limits, double value, double change) {
  if (scale == "linear") return value + change;
  if (scale == "log") return value * std::exp(change);
  double const odds = (value - limits.low) / (limits.high - value);
  return limits.low + (limits.high - limits.low) / (1.0 + std::exp(-change) / odds);
}

/// Standard deviations that a draw is taken never to pass: beyond lies one in 10^9.
inline constexpr double drawn_within = 6.0;

/// Largest standard deviation of a logarithm; at a factor of e^20 a value is as good as unknown,
/// and draws far beyond are no numbers.
inline constexpr double most_logarithmic_sd = 20.0;

/// The value at a path such as "rate.branches[0].k.E", or nullptr.
inline Json* find_path(Json& document, std::string const& path) {
  Json* place = &document;
  std::size_t i = 0;
  while (i < path.size()) {
    if (path[i] == '[') {
      auto const close = path.find(']', i);
      if (close == std::string::npos || close == i + 1 || close > i + 6) return nullptr;
      std::size_t index = 0;
      for (auto k = i + 1; k < close; ++k) {
        if (path[k] < '0' || path[k] > '9') return nullptr;
        index = 10 * index + static_cast<std::size_t>(path[k] - '0');
      }
      if (!place->is_array() || index >= place->size()) return nullptr;
      place = &(*place)[index];
      i = close + 1;
      if (i < path.size() && path[i] == '.') ++i;
      continue;
    }
    auto const end = std::min(path.find_first_of(".[", i), path.size());
    auto const key = path.substr(i, end - i);
    if (!place->is_object() || !place->contains(key)) return nullptr;
    place = &(*place)[key];
    i = end < path.size() && path[end] == '.' ? end + 1 : end;
  }
  return place;
}

/// The quantity object at a path, or nullptr.
inline Json* find_quantity(Json& document, std::string const& path) {
  Json* const place = path.empty() ? nullptr : find_path(document, path);
  bool const is_quantity = place != nullptr && place->is_object() && place->contains("value") &&
                           place->contains("unit") && (*place)["value"].is_number();
  return is_quantity ? place : nullptr;
}

namespace detail {

/// Refuses a scale on which draws may leave the limits of the value.
inline void check_scale(Reader const& c, std::string const& key, std::string const& scale,
                        Range const& limits, double value, double sd) {
  auto const stated = "\"" + scale + "\"";
  auto const with_sd = stated + " with a standard deviation of " + shown(sd);
  bool const bounded = std::isfinite(limits.low) && std::isfinite(limits.high);
  if (scale == "logit" && !(bounded && value > limits.low && value < limits.high)) {
    c.fail(key, stated,
           "\"log\" or \"linear\": the value " + shown(value) + " is not between two limits (" +
               limits.text() + ")");
  }
  if (scale != "linear" && sd > most_logarithmic_sd) {
    c.fail(key, with_sd, "a standard deviation of at most " + shown(most_logarithmic_sd));
  }
  double const least = drawn(scale, limits, value, -drawn_within * sd);
  double const most = drawn(scale, limits, value, drawn_within * sd);
  // Round-off must not refuse a value that lies just so far from its limit.
  double const slack = 1e-9 * std::abs(value);
  if (least >= limits.low - slack && most <= limits.high + slack) return;
  c.fail(key, with_sd,
         std::string(bounded ? "\"logit\"" : "\"log\"") + ", or less: within " +
             shown(drawn_within) + " standard deviations the value leaves what it may be, " +
             limits.text());
}

}  // namespace detail

/// A covariance while it is read.
struct CovarianceReading {
  Json document;         ///< the resin's, whose quantities the parameters name
  Limits const& limits;  ///< of its quantities
  std::vector<std::string> parameters = {}, scale = {};
  std::vector<double> values = {};
};

namespace detail {

/// Each parameter is a quantity of the document, and has a scale that it can be on.
inline void check_parameters(Reader& c, CovarianceReading& x) {
  auto const& names = x.parameters;
  auto const n = names.size();
  if (n == 0) c.fail("parameters", "an empty list", "at least one path to a quantity");
  for (std::size_t i = 0; i < n; ++i) {
    auto const key = "parameters[" + std::to_string(i) + "]";
    auto const* q = find_quantity(x.document, names[i]);
    auto const refuse = [&](char const* allowed) { c.fail(key, "\"" + names[i] + "\"", allowed); };
    if (q == nullptr || !x.limits.contains(names[i])) {
      refuse("the path of a quantity of this document, such as \"rate.k1.E\"");
    }
    if (std::count(names.begin(), names.end(), names[i]) > 1) refuse("each parameter once");
    if (names[i].ends_with(".share")) {
      refuse("no share: shares add up to 1, and one alone cannot vary");
    }
    x.values.push_back((*q)["value"].get<double>());
    if (i < x.scale.size() && x.scale[i] == "log" && !(x.values[i] > 0.0)) {
      c.fail("scale[" + std::to_string(i) + "]", "\"log\"", "\"linear\" for a value not above 0");
    }
  }
  if (x.scale.size() != n) {
    c.fail("scale", std::to_string(x.scale.size()) + " texts",
           std::to_string(n) + ", one for each parameter");
  }
  for (std::size_t i = 0; i < n; ++i) {
    auto const& known = covariance_scales;
    if (std::find(std::begin(known), std::end(known), x.scale[i]) == std::end(known)) {
      c.fail("scale[" + std::to_string(i) + "]", "\"" + x.scale[i] + "\"",
             "one of linear, log, logit");
    }
  }
}

/// Square, symmetric, without negative eigenvalues, and of draws that stay within the limits.
inline void read_matrix(Field<CovarianceReading> const&, Reader& c, CovarianceReading& x) {
  auto const n = x.parameters.size();
  Json const& rows = c.at("matrix", "a list of lists of numbers");
  auto const square = std::to_string(n) + " lists of " + std::to_string(n) + " numbers";
  if (!rows.is_array() || rows.size() != n) c.fail("matrix", Reader::kind_of(rows), square);
  auto const size = numerics::index(n);
  Eigen::MatrixXd m(size, size);
  for (Eigen::Index i = 0; i < size; ++i) {
    auto const row = "matrix[" + std::to_string(i) + "]";
    auto const& given = rows[static_cast<std::size_t>(i)];
    if (!given.is_array() || given.size() != n) c.fail(row, Reader::shown_value(given), square);
    for (Eigen::Index j = 0; j < size; ++j) {
      auto const at = row + "[" + std::to_string(j) + "]";
      m(i, j) = c.checked_number(given[static_cast<std::size_t>(j)], c.path(at),
                                 Range{.low = i == j ? 0.0 : -1e12, .high = 1e12});
    }
  }
  for (Eigen::Index i = 0; i < size; ++i) {
    for (Eigen::Index j = 0; j < i; ++j) {
      if (std::abs(m(i, j) - m(j, i)) > 1e-9 * std::sqrt(m(i, i) * m(j, j))) {
        c.fail("matrix[" + std::to_string(i) + "][" + std::to_string(j) + "]", shown(m(i, j)),
               shown(m(j, i)) + ", as across the diagonal");
      }
    }
  }
  if (!uncertain::covariance_factor(m)) {
    c.fail("matrix", "a negative eigenvalue", "a positive semi-definite matrix");
  }
  for (std::size_t i = 0; i < n; ++i) {
    check_scale(c, "scale[" + std::to_string(i) + "]", x.scale[i], x.limits.at(x.parameters[i]),
                x.values[i], std::sqrt(m(numerics::index(i), numerics::index(i))));
  }
}

using CovarianceFields = ModelFields<CovarianceReading>;
using Texts = std::vector<std::string>;

inline constexpr Field<CovarianceReading> covariance_fields[] = {
    CovarianceFields::texts("parameters",
                            [](CovarianceReading& x, Texts t) { x.parameters = std::move(t); })
        .elements(1, 0, true)
        .means("Paths of quantities of this document, such as rate.k1.E."),
    CovarianceFields::texts(
        "scale", [](CovarianceReading& x, Texts t) { x.scale = std::move(t); }, covariance_scales)
        .elements(1),
    CovarianceFields::check(check_parameters),
    CovarianceFields::field("matrix", {.number = true, .list = 2, .least = 1}, read_matrix),
    CovarianceFields::basis(),
    CovarianceFields::source(),
    CovarianceFields::where().optional(),
    CovarianceFields::note()};

}  // namespace detail

/// The `covariance` of a resin file.
inline constexpr Object<CovarianceReading> covariance_table{
    detail::covariance_fields,
    "How uncertain the constants are together: of the value in the quantity's own unit where the "
    "scale is linear, of ln(value) where it is log, of ln((value - low)/(high - value)) where it "
    "is "
    "logit, low and high being what the value may be at least and at most. Not expressible here "
    "and "
    "checked by the reader: draws within six standard deviations stay inside what the value may "
    "be; "
    "the paths lead to quantities, each once; the matrix is square, symmetric and positive "
    "semi-definite."};

/// Checks the `covariance` of a resin document; nothing else of the core needs its numbers.
/// @param document the resin's, whose quantities the parameters name
/// @param limits of its quantities
/// @throws InputError
inline void check_covariance(Reader& resin, Json document, Limits const& limits) {
  CovarianceReading x{std::move(document), limits};
  auto c = resin.object("covariance");
  read_object(covariance_table, c, x);
}

}  // namespace cure::io
