#pragma once
typedef __SIZE_TYPE__ size_t;
typedef __PTRDIFF_TYPE__ ptrdiff_t;
#define NULL 0
#define offsetof(type, member) __builtin_offsetof(type, member)
