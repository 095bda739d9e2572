#include <string>
#include <vector>

#include "bind.hpp"
#include "cure/io/clock_times.hpp"
#include "cure/io/near_words.hpp"
#include "cure/io/schemas.hpp"
#include "cure/process/usual.hpp"

namespace cure::python {

void bind_documents(py::module_& m) {
  m.def("described_documents", &io::described_documents);
  m.def("did_you_mean", [](std::string const& word, std::vector<std::string> const& ids) {
    return did_you_mean(nearest_id(word, ids));
  });
  m.def("stamp", [](std::string const& text) -> py::object {
    auto const found = io::stamp_of(text);
    if (!found) return py::none();
    py::object days = py::none();
    if (found->date) {
      auto const by = [&](std::size_t order) {
        return io::detail::days_of(*found->date, io::detail::date_orders[order]);
      };
      days = py::make_tuple(by(0), by(1), by(2));
    }
    return py::make_tuple(days, found->time_of_day);
  });
  m.def("usual_temperatures", [] {
    py::dict found;
    for (auto const& u : process::usual_temperatures) found[u.name] = py::make_tuple(u.low, u.high);
    return found;
  });
  m.def("check_json",
        [](std::string const& text, std::string const& file) { io::parse(text, file); });
  m.def("filled_document",
        [](std::string const& kind, std::string const& text, std::string const& file) {
          return io::filled_document(kind, io::parse(text, file), file).dump();
        });
}

}  // namespace cure::python
