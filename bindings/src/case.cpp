#include <pybind11/eigen.h>

#include <cstdint>
#include <filesystem>
#include <iterator>
#include <memory>
#include <optional>
#include <string>
#include <tuple>
#include <utility>
#include <vector>

#include "bind.hpp"
#include "cure/decide/answer.hpp"
#include "cure/io/answer_file.hpp"
#include "cure/io/case_file.hpp"
#include "cure/io/job_file.hpp"
#include "cure/io/page_file.hpp"
#include "cure/io/stated_file.hpp"
#include "cure/page/page_of.hpp"
#include "cure/page/text.hpp"
#include "cure/process/history_arrays.hpp"
#include "cure/process/place.hpp"
#include "stoppable.hpp"

namespace cure::python {

namespace {

using process::Case;
using process::StageHistory;

struct Result {
  Case case_;
  decide::Answer answer;
};

/// Ranges as Python gives them: name, title, names of the inputs moved, distribution, spread.
using StatedTuple =
    std::tuple<std::string, std::string, std::vector<std::string>, std::string, double>;

uncertain::Distribution distribution_of(std::string const& name, std::string const& field) {
  for (std::size_t i = 0; i < std::size(uncertain::distribution_names); ++i) {
    if (name == uncertain::distribution_names[i]) return static_cast<uncertain::Distribution>(i);
  }
  throw InputError(field, "\"" + name + "\"", "one of normal, uniform, lognormal");
}

ensemble::Input const& input_of(std::string const& name, std::string const& field) {
  try {
    return ensemble::find_input(name);
  } catch (InputError const& e) {
    throw InputError(field, name, e.allowed());
  }
}

uncertain::Stated stated(std::uint64_t seed, bool constants, std::string source,
                         std::vector<StatedTuple> const& inputs) {
  uncertain::Stated s{seed, constants, {}, std::move(source)};
  for (auto const& [name, title, moves, distribution, spread] : inputs) {
    auto const field = "uncertain." + name;
    if (moves.empty()) throw InputError(field + ".moves", "nothing", "at least one input");
    auto const drawn = distribution_of(distribution, field + ".distribution");
    uncertain::StatedInput input{name, title, {}, drawn, spread};
    for (auto const& move : moves) input.moves.push_back(&input_of(move, field + ".moves"));
    s.inputs.push_back(std::move(input));
  }
  return s;
}

py::tuple as_tuple(uncertain::Stated const& s) {
  std::vector<StatedTuple> inputs;
  for (auto const& i : s.inputs) {
    std::vector<std::string> moves;
    for (auto const* move : i.moves) moves.emplace_back(move->name);
    inputs.emplace_back(i.name, i.title, moves,
                        uncertain::distribution_names[static_cast<int>(i.distribution)], i.spread);
  }
  return py::make_tuple(s.seed, s.constants, s.source, inputs);
}

std::vector<std::string> cell_layers(StageHistory const& stage) {
  if (stage.lumped()) return {"mixed mass"};
  std::vector<std::string> names;
  for (std::size_t c = 0; c < stage.cells; ++c) names.push_back(stage.layer(c).name);
  return names;
}

std::vector<double> radii(StageHistory const& stage) {
  std::vector<double> r;
  for (std::size_t c = 0; c < stage.cells && !stage.lumped(); ++c) r.push_back(stage.radius(c));
  return r;
}

/// Radii of the faces, (rows + 1) rows of columns.
std::vector<double> faces(StageHistory const& stage) {
  if (!stage.section) return stage.mesh.face;
  std::vector<double> r;
  for (std::size_t i = 0; i <= stage.section->rows(); ++i) {
    for (auto const& column : stage.section->column) r.push_back(column.face[i]);
  }
  return r;
}

std::vector<std::size_t> resin_cells(StageHistory const& stage) {
  std::vector<std::size_t> cells;
  for (std::size_t j = 0; j < stage.reacting; ++j) cells.push_back(stage.resin_cell(j));
  return cells;
}

/// Headings and words of the resolved conditions of ground and surfaces.
std::vector<std::pair<std::string, std::string>> facts(Case const& c) {
  std::vector<std::pair<std::string, std::string>> found;
  for (auto& fact : page::conditions(c)) {
    found.emplace_back(std::move(fact.name), std::move(fact.value));
  }
  return found;
}

std::string place(std::string layer, std::string position, std::optional<std::string> clock,
                  std::optional<double> along_mm) {
  process::Point p;
  p.layer = std::move(layer);
  p.position = std::move(position);
  if (clock) {
    p.angle = 0.0;
    p.clock = std::move(*clock);
  }
  if (along_mm) p.distance = 1e-3 * *along_mm;
  return page::place(p);
}

std::vector<std::string> usual_caution_codes() {
  std::vector<std::string> codes;
  for (auto const& usual : process::usual_caution_words) codes.emplace_back(usual.code);
  return codes;
}

char const* section_kind(StageHistory const& stage) {
  if (!stage.section) return "";
  return stage.section->section == heat::Section::around ? "around" : "along";
}

void bind_input(py::module_& m) {
  py::class_<Case>(m, "Case")
      .def_readonly("title", &Case::title)
      .def_readonly("resin", &Case::resin)
      .def_readonly("defaults", &Case::defaults)
      .def_property_readonly(
          "conditions_json",
          [](Case const& c) {
            return io::Json{{"ground", io::ground_json(c)}, {"films", io::films_json(c)}}.dump();
          })
      .def_property_readonly("planned_hold", &process::planned_hold)
      .def_property_readonly("facts", &facts)
      .def_property_readonly(
          "section_words",
          [](Case const& c) { return c.section ? page::describe(*c.section, c) : std::string(); })
      .def_property_readonly("liner_points", [](Case const& c) {
        return process::point_count(c.discretisation.liner);
      });
  py::class_<io::ModelLibrary>(m, "ModelLibrary")
      .def(py::init([](std::vector<std::filesystem::path> roots, std::filesystem::path only) {
        return io::ModelLibrary{std::move(roots), std::move(only)};
      }))
      .def_readonly("only", &io::ModelLibrary::only);
  m.def("confine", &io::confine);
  m.def("own_model_folders", &io::own_model_folders);
  m.def("parse_case", &io::parse_case);

  py::class_<uncertain::Stated>(m, "Stated").def(py::init(&stated)).def("words", &decide::in_words);
  m.def("usual_ranges", [] { return as_tuple(uncertain::usual()); });
  m.def("read_ranges", [](std::string const& text, std::string const& file) {
    return as_tuple(io::read_stated(io::parse(text, file), "", file));
  });
}

void bind_history(py::module_& m) {
  m.def("position_name", &process::position_name);
  py::class_<StageHistory>(m, "StageHistory")
      .def_property_readonly("kind", [](StageHistory const& s) { return process::name(s.kind); })
      .def_readonly("start", &StageHistory::start)
      .def_readonly("first_reacting", &StageHistory::first_reacting)
      .def_readonly("reacting", &StageHistory::reacting)
      .def_readonly("steps", &StageHistory::steps)
      .def_readonly("energy_residual", &StageHistory::energy_residual)
      .def_property_readonly("radius", [](StageHistory const& s) { return array_of(radii(s)); })
      .def_property_readonly("face", [](StageHistory const& s) { return array_of(faces(s)); })
      .def_property_readonly("section", &section_kind)
      .def_property_readonly("edge",
                             [](StageHistory const& s) {
                               return array_of(s.section ? s.section->edge : std::vector<double>{});
                             })
      .def_property_readonly("resin_cells", &resin_cells)
      .def_property_readonly("layers", &cell_layers)
      .def("times", [](StageHistory const& s,
                       std::size_t between) { return array_of(s.path.refined_times(between)); })
      .def_property_readonly("temperatures",
                             [](StageHistory const& s) { return process::temperatures(s); })
      .def_property_readonly("alphas", [](StageHistory const& s) { return process::alphas(s); })
      .def("sample", [](StageHistory const& s, Eigen::Ref<Eigen::VectorXd const> const& times) {
        auto found = process::sample(s, times);
        return std::pair(std::move(found.temperature), std::move(found.alpha));
      });
}

/// A page as Python keeps it (words/page.py); a prediction that was pickled has no other.
page::Page page_of(py::object const& kept) {
  auto const words = [](py::handle from, char const* name) {
    return from.attr(name).cast<std::string>();
  };
  auto const status = [&](py::handle from) {
    auto const said = words(from, "status");
    for (auto const s : {decide::Status::ok, decide::Status::wait}) {
      if (said == io::detail::name_of(s)) return s;
    }
    return decide::Status::stop;
  };
  page::Page p;
  p.title = words(kept, "title");
  p.status = status(kept);
  p.headline = words(kept, "headline");
  for (auto const& f : kept.attr("facts")) p.facts.push_back({words(f, "name"), words(f, "value")});
  py::object const h = kept.attr("headings");
  p.headings = {words(h, "names"), words(h, "times"), words(h, "likely"), words(h, "why"),
                words(h, "cautions")};
  p.ranged = kept.attr("ranged").cast<bool>();
  for (auto const& r : kept.attr("rows")) {
    auto mark = page::Mark::none;
    for (auto const m : {page::Mark::key, page::Mark::bad}) {
      if (words(r, "mark") == io::detail::name_of(m)) mark = m;
    }
    p.rows.push_back({words(r, "name"), words(r, "time"), words(r, "why"), mark, words(r, "likely"),
                      r.attr("unlikely").cast<bool>()});
  }
  for (auto const& r : kept.attr("reasons")) {
    p.reasons.push_back({words(r, "code"), words(r, "text"), status(r)});
  }
  for (auto const& c : kept.attr("cautions"))
    p.cautions.push_back({words(c, "code"), words(c, "text")});
  p.at_any_job = words(kept, "at_any_job");
  p.numerics = words(kept, "numerics");
  p.ranges = words(kept, "ranges");
  p.defaults = words(kept, "defaults");
  p.solver = words(kept, "solver");
  return p;
}

void bind_answer(py::module_& m) {
  py::class_<Result, std::shared_ptr<Result>>(m, "Result")
      .def_property_readonly(
          "verdict_json", [](Result const& r) { return io::answer_json(r.case_, r.answer).dump(); })
      .def("at",
           [](Result const& r, std::string const& place,
              Eigen::Ref<Eigen::VectorXd const> const& times) {
             auto found = process::at(r.answer.prediction.history, place, times);
             return std::pair(std::move(found.T), std::move(found.alpha));
           })
      .def("page_json",
           [](Result const& r, std::string name, std::string changed) {
             auto const p = page::page_of(r.case_, r.answer, {std::move(name), std::move(changed)});
             return io::page_json(p).dump();
           })
      .def("moments_json",
           [](Result const& r, std::optional<double> mixed_at, double planned) {
             job::Times const times{mixed_at, planned};
             return io::Json{{"headline", job::headline(r.answer, times)},
                             {"moments", io::moments_json(job::moments(r.answer, times))}}
                 .dump();
           })
      .def_property_readonly("stages", [](std::shared_ptr<Result> const& r) {
        py::list stages;
        for (auto const& s : r->answer.prediction.history) {
          stages.append(py::cast(s, py::return_value_policy::reference_internal, py::cast(r)));
        }
        return stages;
      });
  m.def("duration", [](double minutes, bool up) { return decide::duration(60.0 * minutes, up); });
  m.def("whole", &decide::whole);
  m.def("place", &place);
  m.def("in_ascii", &page::in_ascii);
  m.def(
      "page_text",
      [](py::object const& kept, std::size_t width, bool colours, bool ascii) {
        return page::text(page_of(kept), {width, colours, ascii});
      },
      py::arg("page"), py::kw_only(), py::arg("width"), py::arg("colours"), py::arg("ascii"));
  m.def("usual_caution_codes", &usual_caution_codes);
  m.def("caution_in_short",
        [](std::string const& code) { return std::string(process::in_short(code)); });
  m.def("per_hundred", &decide::per_hundred);
  m.def(
      "predict",
      [](Case const& c, bool with_error, uncertain::Stated const* stated,
         std::optional<std::size_t> samples, py::object stop) {
        decide::Options options;
        options.stated.reset();
        if (stated != nullptr) options.stated = *stated;
        options.samples = samples;
        options.numerical_error = with_error;
        return stoppable(std::move(stop), [&] {
          auto result = std::make_shared<Result>(Result{c, {}});
          result->answer = decide::answer(result->case_, options);
          return result;
        });
      },
      py::arg(), py::arg("with_error"), py::arg("stated"), py::arg("samples"),
      py::arg("stop") = py::none());
}

}  // namespace

void bind_case(py::module_& m) {
  bind_input(m);
  bind_history(m);
  bind_answer(m);
}

}  // namespace cure::python
