#pragma once
/// The wall of a stage in two dimensions: columns of layers side by side, each with its own
/// surfaces, from a case's section. Stages before the liner lies in the pipe stay one-dimensional;
/// what they hand over stands in every column alike, row by row.
///
/// Where the liner is missing the bladder fills its place while it is held; after release that
/// place is open to the bore: air, through which the pipe's surface is seen (as a layer that
/// conducts well and stores nothing). Where the pipe is missing its place is ground.

#include <cstddef>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "cure/heat/section_conduction.hpp"
#include "cure/process/case.hpp"

namespace cure::process {

/// @param layers of one column, inside to outside
inline heat::SectionMesh section_mesh(Case const& c, PipeSection const& s,
                                      std::span<heat::Layer const> layers) {
  double const seat = 0.5 * c.pipe.inner_diameter;
  auto edge = column_edges(s, seat);
  auto columns = heat::fitted_columns(edge, seat, layers, "liner", [&](double position) {
    return s.thickness(position, c.liner.thickness);
  });
  for (std::size_t j = 0; j < columns.size(); ++j) {
    double const position = 0.5 * (edge[j] + edge[j + 1]);
    bool const held = columns[j].layers.front().name == "bladder";
    for (auto& layer : columns[j].layers) {
      if (layer.name == "liner" && s.bare(position)) {
        layer.name = held ? "bladder in gap" : "open gap";
        layer.material = held ? c.bladder.material : heat::Material{"open", 1.0, 1.2, 1005.0};
      } else if (layer.name == "pipe" && s.open_to_soil && s.open_to_soil->holds(position)) {
        layer.name = "soil in gap";
        layer.material = c.ground.material;
      }
    }
  }
  return heat::make_section_mesh(s.kind, std::move(edge), columns);
}

/// @param inner,outer what happens at the surfaces where nothing differs
inline heat::SectionConduction section_conduction(Case const& c, PipeSection const& s,
                                                  std::span<heat::Layer const> layers,
                                                  heat::Boundary const& inner,
                                                  heat::Boundary const& outer) {
  auto mesh = section_mesh(c, s, layers);
  auto const m = mesh.columns();
  std::size_t liner = 0;
  while (liner < layers.size() && layers[liner].name != "liner") ++liner;
  double const wet =
      s.water ? heat::wetted_angle(s.water->depth, 0.5 * c.pipe.inner_diameter) : 0.0;
  std::vector<heat::Boundary> outers(m, outer);
  std::vector<std::optional<heat::Film>> films(m);
  for (std::size_t j = 0; j < m; ++j) {
    double const position = mesh.position(j);
    if (auto* fixed = std::get_if<heat::FixedTemperature>(&outers[j])) {
      fixed->temperature = fixed->temperature.scaled(1.0, s.offset(position));
    }
    if (s.around() && (position < wet || position > full_turn - wet)) {
      films[j] = heat::Film{liner, s.water->h, s.water->temperature};
    }
  }
  return {std::move(mesh), std::vector<heat::Boundary>(m, inner), std::move(outers),
          std::move(films)};
}

/// Values by row, one for each column; what is by cell already stays.
inline std::vector<double> by_cell(std::vector<double> values, std::size_t rows,
                                   std::size_t columns) {
  if (values.size() != rows) return values;
  std::vector<double> cells;
  cells.reserve(rows * columns);
  for (double const v : values) cells.insert(cells.end(), columns, v);
  return cells;
}

}  // namespace cure::process
