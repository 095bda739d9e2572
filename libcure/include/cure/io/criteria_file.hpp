#pragma once
/// The parts of a case document that say when release and service are allowed, and how finely to
/// compute.

#include "cure/io/case_reading.hpp"

namespace cure::io {

/// By process::Accuracy.
inline constexpr char const* accuracy_words[] = {"quick", "standard", "fine"};

namespace detail::criteria {

using F = CaseFields;
using X = CaseReading;

inline constexpr char const* project = "an assumption of this project";
inline constexpr char const* from_model = "from the resin model, an assumption of this project";

inline Default water_head(X const& x) {
  if (x.c.ground.water) return {1.0, "there is groundwater, its head is an assumption"};
  return {0.0, "no groundwater in the case"};
}

inline constexpr Field<X> bears_fields[] = {
    F::number("water_head_m", limits::water_head, unit::m,
              [](X& x, double v) { x.c.release.bears.water_head = v; })
        .or_number(water_head, "1 where the case has groundwater, else 0")
        .means("Head of groundwater above the invert."),
    F::number("pull_N", limits::pull, unit::newton,
              [](X& x, double v) { x.c.release.bears.pull = v; })
        .or_number(500.0, "the bladder drawn out by hand, an assumption")
        .means("Pull along the pipe when the bladder is drawn out."),
    F::number("factor", limits::safety_factor, unit::none,
              [](X& x, double v) { x.c.release.bears.factor = v; })
        .or_number(2.0, "as in ASTM F1216, X1.1")
        .means("By which strength exceeds load.")};

inline constexpr Object<X> bears_table{bears_fields,
                                       "What the liner must bear once the bladder is out."};

inline constexpr Field<X> either_fields[] = {
    F::number("safety_factor", limits::safety_factor, unit::none,
              [](X& x, double v) { x.c.release.safety_factor = v; })
        .or_number(1.25, project)
        .means("On the time, only where there are no ranges.")};

inline constexpr Field<X> mechanics_fields[] = {
    F::number("load_hours", limits::load_time, unit::hours,
              [](X& x, double v) { x.c.release.load_time = v; })
        .or_number(2.0, "that the load stays before further cure counts, an assumption")
        .means("How long the load stays before further cure counts."),
    F::object_or_empty("bears", bears_table)};

inline constexpr Object<X> mechanics_table{mechanics_fields, "By what the liner must bear."};

constexpr Field<X> margin(char const* key) {
  return F::number(key, limits::Tg_margin, unit::kelvin,
                   [](X& x, double v) { x.c.release.Tg_margin = v; });
}

inline constexpr Field<X> conversion_fields[] = {
    F::number("alpha_min", limits::alpha_min, unit::none,
              [](X& x, double v) { x.c.release.alpha_min = v; })
        .or_number(
            [](X const& x) {
              return Default{x.c.resin.release_alpha_min, from_model};
            },
            "the resin model's own")
        .means("Degree of cure."),
    margin("Tg_above_wall_K").means("The older name of Tg_margin_K.").optional(),
    margin("Tg_margin_K")
        .or_number(
            [](X const& x) {
              return Default{x.c.resin.release_Tg_margin, from_model};
            },
            "the resin model's own")
        .means("Tg above the resin's own temperature.")
        .unless_given("Tg_above_wall_K")};

inline constexpr Object<X> conversion_table{conversion_fields,
                                            "By the numbers that the resin's maker states."};

// By process::ReleaseBy.
inline constexpr KindOf<X> release_kinds[] = {{"mechanics", &mechanics_table},
                                              {"conversion", &conversion_table}};

// A conversion that is stated is meant to count.
inline constexpr Object<X> release_table =
    Object<X>(
        "by", release_kinds,
        [](X& x, std::size_t i) { x.c.release.by = static_cast<process::ReleaseBy>(i); },
        "When the bladder may come out; assumptions of this project.")
        .beside(either_fields)
        .first_kind_unless("alpha_min", "mechanics, conversion where alpha_min is given");

inline constexpr Field<X> service_fields[] = {
    F::celsius("temperature_C", [](X& x, double v) { x.c.service.temperature = v; })
        .or_number(25.0, "domestic drain, an assumption"),
    F::number("Tg_margin_K", limits::Tg_margin, unit::kelvin, [](X& x, double v) {
      x.c.service.Tg_margin = v;
    }).or_number(10.0, project)};

inline constexpr Object<X> service_table{service_fields, "When the pipe may be used again."};

constexpr Field<X> cells(char const* key, void (*set)(X&, std::size_t)) {
  return F::whole(key, {.low = 2.0, .high = 2000.0}, set).optional();
}

inline constexpr Field<X> cells_fields[] = {
    cells("bladder", [](X& x, std::size_t n) { x.c.discretisation.bladder = n; }),
    cells("liner", [](X& x, std::size_t n) { x.c.discretisation.liner = n; }),
    cells("pipe", [](X& x, std::size_t n) { x.c.discretisation.pipe = n; }),
    cells("ground", [](X& x, std::size_t n) { x.c.discretisation.ground = n; })};

inline constexpr Object<X> cells_table{cells_fields, "Through each layer."};

inline constexpr Field<X> numerics_fields[] = {
    F::object_or_empty("cells", cells_table),
    F::number("temperature_tolerance_K", {.low = 1e-9, .high = 1.0}, unit::kelvin,
              [](X& x, double v) { x.c.discretisation.tolerance.temperature = v; })
        .optional(),
    F::number("alpha_tolerance", {.low = 1e-12, .high = 1e-2}, unit::none, [](X& x, double v) {
      x.c.discretisation.tolerance.alpha = v;
    }).optional()};

inline constexpr Object<X> numerics_table{
    numerics_fields, "Mesh and step tolerances, any of them by itself; by default as by accuracy."};

}  // namespace detail::criteria

namespace detail::criteria {

inline constexpr Field<X> goal_fields[] = {
    F::number("release_min", limits::release_within, unit::minutes, [](X& x, double v) {
      x.c.discretisation.release_within = v;
    }).means("Largest estimated numerical error of the release.")};
inline constexpr Object<X> goal_table{
    goal_fields, "Mesh and steps refined, from standard on, until the release meets this."};

inline void read_accuracy(Field<X> const& self, Reader& r, X& x) {
  if (r.at(self.key, "a word or an object").is_object()) {
    auto goal = r.object(self.key);
    return read_object(goal_table, goal, x);
  }
  auto const i = r.choice(self.key, self.shape.words);
  x.c.discretisation = process::discretisation(static_cast<process::Accuracy>(i));
}

}  // namespace detail::criteria

/// "accuracy" sets mesh and step tolerances together, "numerics" any of them by itself.
inline constexpr Field<CaseReading>
    accuracy_field =
        CaseFields::field(
            "accuracy",
            {.text = true, .words = accuracy_words, .object = &detail::criteria::goal_table},
            detail::criteria::read_accuracy)
            .means("Sets mesh and step tolerances together; numerics goes before it.")
            .or_else("standard"),
    numerics_field = CaseFields::object_or_empty("numerics", detail::criteria::numerics_table);

}  // namespace cure::io
