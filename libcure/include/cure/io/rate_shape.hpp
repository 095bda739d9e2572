#pragma once
/// What the cure scheme of a model file may hold, for its schema: rate laws, diffusion control,
/// inhibitor. They are read in rate_file.hpp, by the same lists of constants.

#include <cstddef>
#include <utility>
#include <variant>

#include "cure/io/quantity.hpp"
#include "cure/io/rate_file.hpp"

namespace cure::io::detail::scheme {

/// Tables that are described here and read elsewhere; that of measured rates is read too.
using Described = Tabulated;

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

inline constexpr Range share{.low = 0.0, .high = 1.0, .above = true};

template <class Member>
constexpr Field<X> field_of(kinetics::LawConstant<Member> const& c) {
  auto const f =
      kinetics::is_rate_constant<Member> ? constant(c.key) : quantity(c.key, c.kind, c.range);
  return c.may_be_left_out ? f.optional() : f;
}

/// The fields of a law, or of another part of a scheme, by its own list of constants.
template <class Law, class Numbers = std::make_index_sequence<kinetics::constant_count<Law>>>
inline constexpr Object<X> table_of{};
template <class Law, std::size_t... i>
inline constexpr Field<X> fields_of[] = {field_of(kinetics::constant_of<Law, i>)...};
template <class Law, std::size_t first, std::size_t... i>
inline constexpr Object<X> table_of<Law, std::index_sequence<first, i...>>{
    fields_of<Law, first, i...>};

/// The kinds that a list has.
template <class List>
struct KindsOf;
template <class... Law>
struct KindsOf<std::variant<Law...>> {
  static constexpr KindOf<X> kinds[] = {{Law::name, &table_of<Law>}...};
};
inline constexpr Field<X> branch_fields[] = {number("share", share)};

inline constexpr Object<X> branch_table =
    Object<X>("law", KindsOf<Laws>::kinds, nullptr).beside(branch_fields).named("branch");

inline constexpr Field<X> parallel[] = {
    F::objects("branches", branch_table, nullptr).elements(2).means("Shares add up to 1.")};

inline constexpr Object<X> parallel_table{parallel};

template <class List>
struct SchemesOf;
template <class... Law>
struct SchemesOf<std::variant<Law...>> {
  static constexpr KindOf<X> kinds[] = {{Law::name, &table_of<Law>}...,
                                        {EpoxyAmine::name, &table_of<EpoxyAmine>},
                                        {Parallel::name, &parallel_table},
                                        {Tabulated::name, &tabulated_table}};
};

/// "rate": the law and its constants.
inline constexpr Object<X> law_table{"law", SchemesOf<Laws>::kinds, nullptr};

/// "diffusion": what slows the cure down near the glass transition.
inline constexpr Object<X> diffusion_table{"form", KindsOf<Controls>::kinds, nullptr};

/// "inhibitor", of a single reaction.
inline constexpr Object<X> inhibitor_table = [] {
  auto table = table_of<kinetics::InhibitedReaction<double>>;
  table.words = "Only with a single-reaction law.";
  return table;
}();

inline constexpr char const* scheme_rules = R"([
  {"if": {"properties": {"rate": {"properties": {"law": {"enum": ["epoxy-amine", "parallel", "tabulated"]}},
                                  "required": ["law"]}},
          "required": ["rate"]},
   "then": {"properties": {"inhibitor": false}}},
  {"if": {"properties": {"rate": {"properties": {"law": {"const": "tabulated"}}, "required": ["law"]}},
          "required": ["rate"]},
   "then": {"properties": {"diffusion": {"properties": {"form": {"const": "none"}}}}}}])";

}  // namespace cure::io::detail::scheme
