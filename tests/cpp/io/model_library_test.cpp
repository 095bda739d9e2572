#include "cure/io/model_library.hpp"

#include <gtest/gtest.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <string>

#include "cure/error.hpp"
#include "cure/io/resin_file.hpp"

namespace cure::io {
namespace {

namespace fs = std::filesystem;

/// A folder for models, and beside it what is not to be read.
class ModelLibraryTest : public ::testing::Test {
 protected:
  void SetUp() override {
    auto const* test = ::testing::UnitTest::GetInstance()->current_test_info();
    base_ = fs::temp_directory_path() / (std::string("library_") + test->name());
    fs::remove_all(base_);
    fs::create_directories(base_ / "models");
    for (auto const* name : {"models/own.json", "other.json"}) std::ofstream(base_ / name) << "{}";
    fs::create_symlink(base_ / "other.json", base_ / "models" / "link.json");
  }
  void TearDown() override { fs::remove_all(base_); }

  [[nodiscard]] fs::path find(std::string const& name) const {
    ModelLibrary const library{{fs::path(LIBCURE_SOURCE_DIR) / "models"}, base_ / "models"};
    return library.find("resins", name, base_, "resin", "case.json");
  }

  fs::path base_;
};

TEST_F(ModelLibraryTest, FindsWhatLiesInTheFolder) {
  EXPECT_EQ(find("models/own.json"), base_ / "models/own.json");
  EXPECT_EQ(find((base_ / "models/own.json").string()), base_ / "models/own.json");
  EXPECT_TRUE(fs::exists(find("epoxy-amine-medium")));
}

TEST_F(ModelLibraryTest, RefusesAlikeWhatLiesElsewhereWhateverItIs) {
  for (auto const& name : {std::string("other.json"), std::string("models/../other.json"),
                           std::string("models/link.json"), std::string("/etc/passwd"),
                           std::string("missing.json"), std::string("models/../missing.json")}) {
    try {
      (void)find(name);
      FAIL() << name;
    } catch (InputError const& e) {
      EXPECT_EQ(e.field(), "resin");
      EXPECT_EQ(e.value(), "\"" + name + "\"");
      EXPECT_EQ(e.allowed(), "an id, or a file in the one folder that models may come from");
    }
  }
}

TEST_F(ModelLibraryTest, AFolderThatIsNotThereHoldsNothing) {
  ModelLibrary const library{{}, base_ / "nowhere"};
  EXPECT_THROW((void)library.find("resins", "models/own.json", base_, "resin", ""), InputError);
}

TEST_F(ModelLibraryTest, OwnFoldersAreThoseOfTheEnvironment) {
  fs::create_directories(base_ / "own/resins");
  std::ofstream(base_ / "own/resins/mine.json") << "{}";
  ASSERT_EQ(
      ::setenv("LIBCURE_MODELS", ((base_ / "own").string() + ":" + base_.string()).c_str(), 1), 0);
  ModelLibrary library{{fs::path(LIBCURE_SOURCE_DIR) / "models"}};
  for (auto const& folder : own_model_folders()) library.roots.push_back(folder);
  EXPECT_EQ(library.roots.size(), 3u);
  EXPECT_EQ(library.find("resins", "mine", base_, "resin", ""), base_ / "own/resins/mine.json");
  EXPECT_TRUE(resin_ids(library).contains("mine"));
  // One id, two files: neither is taken. The same folder twice is one.
  library.roots.push_back(base_ / "own");
  EXPECT_EQ(library.find("resins", "mine", base_, "resin", ""), base_ / "own/resins/mine.json");
  std::ofstream(base_ / "own/resins/epoxy-amine-fast.json") << "{}";
  EXPECT_THROW((void)library.find("resins", "epoxy-amine-fast", base_, "resin", ""), InputError);
  ASSERT_EQ(::setenv("LIBCURE_MODELS", "/no/such/folder", 1), 0);
  EXPECT_THROW((void)own_model_folders(), InputError);
  ::unsetenv("LIBCURE_MODELS");
  EXPECT_TRUE(own_model_folders().empty());
}

TEST_F(ModelLibraryTest, WithoutAFolderAPathLeadsAnywhere) {
  ModelLibrary const library{{}};
  EXPECT_EQ(library.find("resins", "other.json", base_, "resin", ""), base_ / "other.json");
}

TEST(Evidence, IsWhatTheResinFileSays) {
  auto document = Json::parse(
      std::ifstream(fs::path(LIBCURE_SOURCE_DIR) / "models/resins/epoxy-amine-fast.json"));
  auto const status = document["status"];
  document.erase("evidence");
  EXPECT_FALSE(read_resin(document, "own.json").evidence.cold_from_family);
  document["evidence"] = {{"setting_in_the_cold", "family"}};
  auto const taken = read_resin(document, "own.json").evidence;
  EXPECT_TRUE(taken.cold_from_family);
  EXPECT_FALSE(taken.bulk_from_family);
  EXPECT_FALSE(taken.verified);

  auto const degrees = [](double value) {
    return Json{{"value", value},
                {"unit", "degC"},
                {"basis", "assumption"},
                {"source", "none"},
                {"note", "invented"}};
  };
  document["evidence"] = {{"heat_in_bulk", "family"},
                          {"verified", {{"from", degrees(15.0)}, {"to", degrees(45.0)}}}};
  document["status"] = "verified";
  auto const verified = read_resin(document, "own.json").evidence;
  EXPECT_TRUE(verified.bulk_from_family);
  ASSERT_TRUE(verified.verified);
  EXPECT_DOUBLE_EQ(verified.verified->first, 288.15);
  EXPECT_DOUBLE_EQ(verified.verified->second, 318.15);

  auto const refused = [&]() -> std::string {
    try {
      (void)read_resin(document, "own.json");
    } catch (InputError const& e) {
      return e.field();
    }
    return "taken";
  };
  document["evidence"]["verified"]["to"] = degrees(10.0);
  EXPECT_EQ(refused(), "evidence.verified.to.value");
  document["evidence"]["verified"]["to"] = degrees(45.0);
  document["status"] = status;
  EXPECT_EQ(refused(), "status");
  document["evidence"] = {{"heat_in_bulk", "hearsay"}};
  EXPECT_EQ(refused(), "evidence.heat_in_bulk");
}

}  // namespace
}  // namespace cure::io
