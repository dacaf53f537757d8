# SPDX-License-Identifier: GPL-3.0-or-later
# Install target, CMake package and pkg-config file.
include(CMakePackageConfigHelpers)
set(wf_package_dir ${CMAKE_INSTALL_LIBDIR}/cmake/whitefringe)

install(TARGETS whitefringe EXPORT whitefringe-targets FILE_SET HEADERS)
install(EXPORT whitefringe-targets NAMESPACE whitefringe:: DESTINATION ${wf_package_dir})
configure_package_config_file(cmake/whitefringe-config.cmake.in whitefringe-config.cmake
                              INSTALL_DESTINATION ${wf_package_dir})
write_basic_package_version_file(whitefringe-config-version.cmake COMPATIBILITY SameMinorVersion)
install(FILES ${CMAKE_CURRENT_BINARY_DIR}/whitefringe-config.cmake
              ${CMAKE_CURRENT_BINARY_DIR}/whitefringe-config-version.cmake
        DESTINATION ${wf_package_dir})
# Found from where the file itself stands, so that the installed tree may be moved.
file(RELATIVE_PATH wf_pc_to_prefix /prefix/${CMAKE_INSTALL_LIBDIR}/pkgconfig /prefix)
# Who links a static library links what it needs as well, as shared libraries.
if(BUILD_SHARED_LIBS)
    set(wf_pc_private .private)
else()
    set(wf_pc_static_libs " -fopenmp -lpthread -lm")
endif()
configure_file(cmake/whitefringe.pc.in whitefringe.pc @ONLY)
install(FILES ${CMAKE_CURRENT_BINARY_DIR}/whitefringe.pc
        DESTINATION ${CMAKE_INSTALL_LIBDIR}/pkgconfig)
