#pragma once
/// What the cure scheme of a model file may hold, for its schema: rate laws, diffusion control,
/// inhibitor. They are read in rate_file.hpp.

#include "cure/io/quantity.hpp"

namespace cure::io::detail::scheme {

/// Tables that are described here and read elsewhere.
struct Described {};

using F = ModelFields<Described>;
using X = Described;
using units::Kind;

constexpr Field<X> quantity(char const* key, Kind kind, Range si) {
  return F::quantity(key, kind, si, nullptr);
}
constexpr Field<X> number(char const* key, Range si) { return quantity(key, Kind::number, si); }

inline constexpr char const* both_or_none =
    R"([{"dependentRequired": {"k_ref": ["T_ref"], "T_ref": ["k_ref"]}}])";

inline constexpr Field<X> rate_constant_fields[] = {
    quantity("E", Kind::molar_energy, {.low = 0.0, .high = 1e6}),
    quantity("k_ref", Kind::rate, any()).optional(),
    quantity("T_ref", Kind::temperature, temperature()).optional(),
    quantity("A", Kind::rate, any()).unless_given("k_ref")};

inline constexpr Object<X> rate_constant_table =
    Object<X>(rate_constant_fields, "A exp(-E/RT), or k_ref exp(-E/R (1/T - 1/T_ref))")
        .named("rate_constant")
        .with_rules(both_or_none);

constexpr Field<X> constant(char const* key) { return F::object(key, rate_constant_table); }

inline constexpr Range exponent{.low = 0.0, .high = 10.0}, ratio{.low = 0.0, .high = 100.0},
    share{.low = 0.0, .high = 1.0, .above = true};

inline constexpr Field<X> nth_order[] = {constant("k"), number("n", exponent)};
inline constexpr Field<X> autocatalytic[] = {constant("k"), number("m", exponent),
                                             number("n", exponent)};
inline constexpr Field<X> kamal_sourour[] = {constant("k1"), constant("k2"), number("m", exponent),
                                             number("n", exponent)};
inline constexpr Field<X> two_branch[] = {constant("k1"), constant("k2"), constant("k3"),
                                          number("B", fraction()),
                                          number("alpha_switch", fraction())};
inline constexpr Field<X> epoxy_amine[] = {constant("k_0"),
                                           constant("k_h"),
                                           constant("k_ether").optional(),
                                           number("reactivity", ratio),
                                           number("hydrogens", ratio),
                                           number("hydroxyl", ratio)};

inline constexpr Object<X> nth_order_table{nth_order}, autocatalytic_table{autocatalytic},
    kamal_sourour_table{kamal_sourour}, two_branch_table{two_branch},
    epoxy_amine_table{epoxy_amine};

inline constexpr KindOf<X> single_laws[] = {{"nth-order", &nth_order_table},
                                            {"autocatalytic", &autocatalytic_table},
                                            {"kamal-sourour", &kamal_sourour_table},
                                            {"two-branch", &two_branch_table}};
inline constexpr Field<X> branch_fields[] = {number("share", share)};

inline constexpr Object<X> branch_table =
    Object<X>("law", single_laws, nullptr).beside(branch_fields).named("branch");

inline constexpr Field<X> parallel[] = {
    F::objects("branches", branch_table, nullptr).elements(2).means("Shares add up to 1.")};

inline constexpr Object<X> parallel_table{parallel};

inline constexpr KindOf<X> laws[] = {
    {"nth-order", &nth_order_table},         {"autocatalytic", &autocatalytic_table},
    {"kamal-sourour", &kamal_sourour_table}, {"two-branch", &two_branch_table},
    {"epoxy-amine", &epoxy_amine_table},     {"parallel", &parallel_table}};

/// "rate": the law and its constants.
inline constexpr Object<X> law_table{"law", laws, nullptr};

inline constexpr Field<X> chern_poehlein[] = {
    number("C", positive()), number("alpha_c0", any()),
    quantity("alpha_cT", Kind::inverse_temperature, any())};
inline constexpr Field<X> rabinowitch[] = {
    quantity("k_d0", Kind::rate, positive()), number("C1", positive()),
    quantity("C2", Kind::temperature_difference, positive())};

inline constexpr Object<X> no_diffusion_table{}, chern_poehlein_table{chern_poehlein},
    rabinowitch_table{rabinowitch};

inline constexpr KindOf<X> diffusion_forms[] = {{"none", &no_diffusion_table},
                                                {"chern-poehlein", &chern_poehlein_table},
                                                {"rabinowitch", &rabinowitch_table}};

/// "diffusion": what slows the cure down near the glass transition.
inline constexpr Object<X> diffusion_table{"form", diffusion_forms, nullptr};

inline constexpr Field<X> inhibitor_fields[] = {constant("k_z"), number("epsilon", share)};

/// "inhibitor", of a single reaction.
inline constexpr Object<X> inhibitor_table{inhibitor_fields, "Only with a single-reaction law."};

inline constexpr char const* inhibitor_of_single_reaction = R"([
  {"if": {"properties": {"rate": {"properties": {"law": {"enum": ["epoxy-amine", "parallel"]}},
                                  "required": ["law"]}},
          "required": ["rate"]},
   "then": {"properties": {"inhibitor": false}}}])";

}  // namespace cure::io::detail::scheme
