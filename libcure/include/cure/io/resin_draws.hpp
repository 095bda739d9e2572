#pragma once
/// Draws of a resin by the `covariance` of its document, or of a blend by those of its parts.

#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <cstddef>
#include <filesystem>
#include <memory>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "cure/compiled.hpp"
#include "cure/io/model_files.hpp"
#include "cure/io/resin_file.hpp"
#include "cure/kinetics/uncertain_resin.hpp"
#include "cure/numerics/maps.hpp"
#include "cure/numerics/run_control.hpp"
#include "cure/uncertain/covariance.hpp"

namespace cure::io {

/// The same of a document that differs from one that was read before in values of quantities alone:
/// several times as fast. @param before what was read then. @throws InputError
CURE_FUNCTION kinetics::Resin<double> read_resin_again(Json const& document,
                                                       std::string const& file,
                                                       kinetics::Resin<double> const& before);
#if CURE_DEFINES(MODELS)
CURE_FUNCTION kinetics::Resin<double> read_resin_again(Json const& document,
                                                       std::string const& file,
                                                       kinetics::Resin<double> const& before) {
  Limits limits;
  ResinReading x{document, limits};
  Reader d(document, "", file);
  d.read_before();
  read_object(resin_table, d, x);
  x.r.assumed = before.assumed;
  return std::move(x.r);
}
#endif

/// Resins that differ from a document in the values at some paths, each in its quantity's own unit:
/// one for each row of values (resins, paths).
/// @param before that of the document as it stands. @throws InputError, numerics::Stopped
CURE_FUNCTION std::vector<kinetics::Resin<double>> resins_with(
    Json document, std::string const& file, kinetics::Resin<double> const& before,
    std::vector<std::string> const& paths, Eigen::Ref<numerics::RowMatrix const> const& values);
#if CURE_DEFINES(MODELS)
CURE_FUNCTION std::vector<kinetics::Resin<double>> resins_with(
    Json document, std::string const& file, kinetics::Resin<double> const& before,
    std::vector<std::string> const& paths, Eigen::Ref<numerics::RowMatrix const> const& values) {
  std::vector<Json*> places;
  for (auto const& path : paths) {
    auto* const q = find_quantity(document, path);
    if (q == nullptr) throw InputError("\"" + path + "\"", "no quantity", "its path", file);
    places.push_back(&(*q)["value"]);
  }
  std::vector<kinetics::Resin<double>> resins;
  resins.reserve(static_cast<std::size_t>(values.rows()));
  for (Eigen::Index i = 0; i < values.rows(); ++i) {
    numerics::may_stop(20'000);  // a document is read anew
    for (std::size_t j = 0; j < places.size(); ++j) *places[j] = values(i, numerics::index(j));
    resins.push_back(read_resin_again(document, file, before));
  }
  return resins;
}
#endif

namespace detail {

/// The document of one resin and how its constants move.
struct MovingResin {
  Json document;  ///< without its covariance, which is checked once
  std::string file;
  kinetics::Resin<double> resin = {};  ///< as it stands there
  std::vector<std::string> parameters = {};
  std::vector<std::string> scale = {};
  std::vector<Range> limits = {};  ///< of the values, each in its own unit
  std::vector<double> nominal = {};
  Eigen::MatrixXd factor = {};

  [[nodiscard]] std::size_t dimensions() const { return parameters.size(); }

  /// What normal numbers make of the constants, each in its own unit.
  [[nodiscard]] Eigen::VectorXd values(Eigen::Ref<Eigen::VectorXd const> const& z) const {
    Eigen::VectorXd x = factor * z;
    for (std::size_t j = 0; j < dimensions(); ++j) {
      double& change = x(numerics::index(j));
      change = drawn(scale[j], limits[j], nominal[j], change);
    }
    return x;
  }

  /// One draw a row; of its columns the first count.
  /// @throws InputError for constants that the file might not have, numerics::Stopped
  [[nodiscard]] std::vector<kinetics::Resin<double>> draws(
      Eigen::Ref<numerics::RowMatrix const> const& z) const {
    auto const n = numerics::index(dimensions());
    numerics::RowMatrix x(z.rows(), n);
    for (Eigen::Index i = 0; i < z.rows(); ++i) {
      x.row(i) = values(z.row(i).head(n).transpose()).transpose();
    }
    return resins_with(document, file, resin, parameters, x);
  }
};

/// @param document of a resin, @param file it came from. @throws InputError
CURE_FUNCTION MovingResin moving_resin(Json document, std::string file);
#if CURE_DEFINES(MODELS)
CURE_FUNCTION MovingResin moving_resin(Json document, std::string file) {
  MovingResin m{std::move(document), std::move(file)};
  Limits limits;
  m.resin = read_resin(m.document, m.file, limits);
  if (!m.document.contains("covariance")) return m;
  auto const& block = m.document["covariance"];
  m.parameters = block["parameters"].get<std::vector<std::string>>();
  m.scale = block["scale"].get<std::vector<std::string>>();
  auto const n = numerics::index(m.parameters.size());
  Eigen::MatrixXd matrix(n, n);
  for (Eigen::Index i = 0; i < n; ++i) {
    auto const row = block["matrix"][static_cast<std::size_t>(i)].get<std::vector<double>>();
    matrix.row(i) = numerics::vector_map(row).transpose();
  }
  m.factor = *uncertain::covariance_factor(matrix);  // the reader has refused what has none
  m.document.erase("covariance");
  for (auto const& parameter : m.parameters) {
    m.limits.push_back(limits.at(parameter));
    m.nominal.push_back((*find_quantity(m.document, parameter))["value"].get<double>());
  }
  return m;
}
#endif

}  // namespace detail

using ResinParts = std::vector<std::pair<std::filesystem::path, double>>;

/// Files and shares of the components of a blend that has been read without complaint.
inline ResinParts blend_parts(Json const& blend, ModelLibrary const& library,
                              std::filesystem::path const& beside) {
  ResinParts parts;
  for (auto const& component : blend["components"]) {
    parts.emplace_back(
        library.find("resins", component["resin"].get<std::string>(), beside, "resin", ""),
        component["share"].get<double>());
  }
  return parts;
}

/// The same of a file: of a resin itself, or of a blend.
inline ResinParts resin_parts(std::filesystem::path const& path, ModelLibrary const& library) {
  auto const document = load(path);
  if (document.contains("components")) return blend_parts(document, library, path.parent_path());
  return {{path, 1.0}};
}

/// The draws of a resin, or of a blend of several. The parts' constants move together: the first of
/// each by the same normal number, and so on. Nobody has measured how far they do; hardeners of one
/// family are likely to err alike, and it is the wider case.
/// @param parts files and shares by mass; one of 1 for a resin that is no blend
/// @param named what its blend is called: id and title of every draw
CURE_FUNCTION kinetics::UncertainResin uncertain_resin(ResinParts const& parts,
                                                       kinetics::Resin<double> const& named);
#if CURE_DEFINES(MODELS)
CURE_FUNCTION kinetics::UncertainResin uncertain_resin(ResinParts const& parts,
                                                       kinetics::Resin<double> const& named) {
  std::vector<std::pair<detail::MovingResin, double>> moving;
  kinetics::UncertainResin u;
  u.whole = true;
  for (auto const& [path, share] : parts) {
    moving.emplace_back(detail::moving_resin(load(path), path.string()), share);
    auto const n = moving.back().first.dimensions();
    u.dimensions = std::max(u.dimensions, n);
    u.whole = u.whole && n > 0;
  }
  if (u.dimensions == 0) return {};
  u.draws = [moving = std::make_shared<decltype(moving) const>(std::move(moving)),
             dimensions = u.dimensions, id = named.id,
             title = named.title](std::span<double const> numbers, std::size_t n) {
    if (numbers.size() != n * dimensions) {
      throw InputError("z", std::to_string(n > 0 ? numbers.size() / n : 0) + " columns",
                       std::to_string(dimensions));
    }
    auto const z = numerics::row_map(numbers, dimensions, 0, dimensions);
    if (moving->size() == 1) return moving->front().first.draws(z);
    std::vector<std::vector<kinetics::BlendPart>> mixes(n);
    for (auto const& [part, share] : *moving) {
      auto const drawn = part.draws(z);
      for (std::size_t i = 0; i < n; ++i) mixes[i].push_back({share, drawn[i]});
    }
    std::vector<kinetics::Resin<double>> blends;
    for (auto const& mix : mixes) {
      auto& resin = blends.emplace_back(kinetics::blend(mix));
      resin.id = id;
      resin.title = title;
    }
    return blends;
  };
  return u;
}
#endif

}  // namespace cure::io
