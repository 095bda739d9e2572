#pragma once
/// Draws of a resin by the `covariance` of its document, or of a blend by those of its parts.

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>
#include <cstddef>
#include <filesystem>
#include <memory>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "cure/io/model_files.hpp"
#include "cure/kinetics/uncertain_resin.hpp"

namespace cure::io {

namespace detail {

/// Lower triangular L with L L^T = matrix, by Cholesky. Constants have all sorts of units, so the
/// factor is taken of their correlations; where those are only semi-definite (the reader has
/// refused what is not even that) round-off is kept off the diagonal's zeros. Triangular, so that
/// the first of the parts of a blend move by the first normal number, and so on.
inline Eigen::MatrixXd factor_of(Eigen::MatrixXd const& matrix) {
  Eigen::VectorXd const scale = matrix.diagonal().cwiseMax(0.0).cwiseSqrt();
  Eigen::VectorXd const by = scale.unaryExpr([](double s) { return s > 0.0 ? 1.0 / s : 1.0; });
  Eigen::MatrixXd correlation = by.asDiagonal() * matrix * by.asDiagonal();
  for (double const slack : {0.0, 1e-12, 1e-9, 1e-6, 1e-4}) {
    correlation.diagonal().array() += slack;
    Eigen::LLT<Eigen::MatrixXd> const cholesky(correlation);
    if (cholesky.info() != Eigen::Success) continue;
    return scale.asDiagonal() * Eigen::MatrixXd(cholesky.matrixL());
  }
  throw InputError("covariance.matrix", "a negative eigenvalue", "a positive semi-definite matrix");
}

/// The document of one resin and how its constants move.
struct MovingResin {
  Json document;  ///< without its covariance, which is checked once
  std::string file;
  std::vector<std::string> parameters;
  std::vector<std::string> scale;
  std::vector<Range> limits;  ///< of the values, each in its own unit
  std::vector<double> nominal;
  Eigen::MatrixXd factor;

  [[nodiscard]] std::size_t dimensions() const { return parameters.size(); }

  /// @throws InputError for constants that the file might not have
  [[nodiscard]] kinetics::Resin<double> draw(std::span<double const> z) const {
    auto moved = document;
    Eigen::Map<Eigen::VectorXd const> const normal(z.data(),
                                                   static_cast<Eigen::Index>(dimensions()));
    Eigen::VectorXd const change = factor * normal;
    for (std::size_t j = 0; j < dimensions(); ++j) {
      double const d = change(static_cast<Eigen::Index>(j));
      (*find_quantity(moved, parameters[j]))["value"] = drawn(scale[j], limits[j], nominal[j], d);
    }
    return read_resin(moved, file);
  }
};

/// @param path of a resin file that has been read without complaint
inline MovingResin moving_resin(std::filesystem::path const& path) {
  MovingResin m{load(path), path.string(), {}, {}, {}, {}, {}};
  if (!m.document.contains("covariance")) return m;
  auto const& block = m.document["covariance"];
  m.parameters = block["parameters"].get<std::vector<std::string>>();
  m.scale = block["scale"].get<std::vector<std::string>>();
  auto const n = static_cast<Eigen::Index>(m.parameters.size());
  Eigen::MatrixXd matrix(n, n);
  for (Eigen::Index i = 0; i < n; ++i) {
    for (Eigen::Index j = 0; j < n; ++j) {
      matrix(i, j) =
          block["matrix"][static_cast<std::size_t>(i)][static_cast<std::size_t>(j)].get<double>();
    }
  }
  m.factor = factor_of(matrix);
  Limits limits;
  read_resin(m.document, m.file, limits);
  m.document.erase("covariance");
  for (auto const& parameter : m.parameters) {
    m.limits.push_back(limits.at(parameter));
    m.nominal.push_back((*find_quantity(m.document, parameter))["value"].get<double>());
  }
  return m;
}

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
inline kinetics::UncertainResin uncertain_resin(ResinParts const& parts,
                                                kinetics::Resin<double> const& named) {
  auto moving = std::make_shared<std::vector<std::pair<detail::MovingResin, double>>>();
  kinetics::UncertainResin u;
  u.whole = true;
  for (auto const& [path, share] : parts) {
    moving->emplace_back(detail::moving_resin(path), share);
    auto const n = moving->back().first.dimensions();
    u.dimensions = std::max(u.dimensions, n);
    u.whole = u.whole && n > 0;
  }
  if (u.dimensions == 0) return {};
  u.draw = [moving, id = named.id, title = named.title](std::span<double const> z) {
    if (moving->size() == 1) return moving->front().first.draw(z);
    std::vector<kinetics::BlendPart> drawn;
    for (auto const& [part, share] : *moving) drawn.push_back({share, part.draw(z)});
    auto resin = kinetics::blend(drawn);
    resin.id = id;
    resin.title = title;
    return resin;
  };
  return u;
}

}  // namespace cure::io
