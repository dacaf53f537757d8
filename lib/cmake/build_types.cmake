# SPDX-License-Identifier: GPL-3.0-or-later
# The build types: Release (default), Debug, Asan, Tsan, Coverage.
# No type lets the compiler reorder floating-point arithmetic: results must not depend on it.
set(wf_build_types Release Debug Asan Tsan Coverage)
set_property(GLOBAL PROPERTY DEBUG_CONFIGURATIONS Debug Asan Tsan Coverage)

if(NOT CMAKE_BUILD_TYPE AND PROJECT_IS_TOP_LEVEL)
    set(CMAKE_BUILD_TYPE Release CACHE STRING "One of: ${wf_build_types}" FORCE)
endif()
if(PROJECT_IS_TOP_LEVEL AND NOT CMAKE_BUILD_TYPE IN_LIST wf_build_types)
    message(FATAL_ERROR "CMAKE_BUILD_TYPE is '${CMAKE_BUILD_TYPE}'; choose one of: ${wf_build_types}")
endif()

# project() has made an empty entry of the type that is built; a user's own flags stay.
function(wf_default_flags type flags help)
    if(NOT CMAKE_C_FLAGS_${type})
        set(CMAKE_C_FLAGS_${type} "${flags}" CACHE STRING "${help}" FORCE)
    endif()
endfunction()
wf_default_flags(ASAN
    "-O1 -g -fsanitize=address,undefined -fno-sanitize-recover=all -fno-omit-frame-pointer"
    "Address and undefined-behaviour sanitizers")
wf_default_flags(TSAN "-O1 -g -fsanitize=thread" "Thread sanitizer")
wf_default_flags(COVERAGE "-O0 -g --coverage" "Line coverage")
foreach(type ASAN TSAN COVERAGE)
    set(CMAKE_EXE_LINKER_FLAGS_${type} "" CACHE STRING "")
    set(CMAKE_SHARED_LINKER_FLAGS_${type} "" CACHE STRING "")
endforeach()
