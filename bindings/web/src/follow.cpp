// A job that runs: the release with the readings of a log.
#include "cure/follow/follow.hpp"

#include <string>
#include <vector>

#include "cure/io/follow_file.hpp"
#include "cure/io/readings_file.hpp"
#include "request.hpp"

namespace cure::web {

namespace {

Json minutes(Eigen::VectorXd const& seconds) {
  Json list = Json::array();
  for (double const t : seconds) list.push_back(t / 60.0);
  return list;
}

Json celsius(Eigen::VectorXd const& kelvin) {
  Json list = Json::array();
  for (double const T : kelvin) list.push_back(T - zero_celsius);
  return list;
}

Json band(follow::TemperatureBand const& b) {
  return {{"time_min", minutes(b.time)},
          {"p5_C", celsius(b.p5)},
          {"p50_C", celsius(b.p50)},
          {"p95_C", celsius(b.p95)}};
}

}  // namespace

Json follow_call(Json const& request) {
  io::Reader r(request, "", "request");
  r.skip("call");
  auto const name = text_or(r, "name", "case");
  auto const c = case_of(r, name);
  auto const file = text_or(r, "file", "readings");
  auto const readings = io::parse_readings(r.text("log"), file);
  follow::Options o;
  o.at = text_or(r, "at", "liner outer face");
  if (r.has("now_min")) o.now = 60.0 * r.number("now_min", {.low = 0.0, .high = 1e6});
  if (auto stated = stated_of(r)) {
    if (r.has("uncertain")) o.range_source = "given";
    o.stated = *stated;
  } else {
    r.fail("uncertain", "\"none\"", "ranges: without them readings say nothing");
  }
  o.threads = 1;
  o.name = name;
  r.finish();
  auto const result = follow::follow(c, readings, o);
  return {{"follow", io::follow_json(name, result)},
          {"readings",
           {{"time_min", minutes(result.readings.time)},
            {"temperature_C", celsius(result.readings.temperature)}}},
          {"band_before", band(result.band_before)},
          {"band_after", band(result.band_after)}};
}

}  // namespace cure::web
