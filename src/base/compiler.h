/* The compiler extensions that we use, each behind a macro that plain C11 can leave empty. */
#ifndef SL_BASE_COMPILER_H
#define SL_BASE_COMPILER_H

#if defined(__GNUC__)
#define SL_PRINTF(text, first) __attribute__((format(printf, text, first)))
#else
#define SL_PRINTF(text, first)
#endif

#if defined(__BYTE_ORDER__) && defined(__ORDER_LITTLE_ENDIAN__)
#define SL_LITTLE_ENDIAN (__BYTE_ORDER__ == __ORDER_LITTLE_ENDIAN__)
#else
#define SL_LITTLE_ENDIAN 0
#endif

/*
 * Vectors of 4 or 8 floats or ints as types of their own, with + - * < on all lanes: the compiler
 * makes them of what the machine has. `_near` may lie at any address that suits its elements. They
 * are not passed to functions by value: how that is done depends on the target.
 */
#if defined(__GNUC__) && (__GNUC__ >= 9 || defined(__clang__))
#define SL_VECTORS 1
#define SL_INLINE static inline __attribute__((always_inline))
typedef float sl_f4 __attribute__((vector_size(16)));
typedef int sl_i4 __attribute__((vector_size(16)));
typedef float sl_f8 __attribute__((vector_size(32)));
typedef int sl_i8 __attribute__((vector_size(32)));
typedef float sl_f4_near __attribute__((vector_size(16), aligned(4), may_alias));
typedef int sl_i4_near __attribute__((vector_size(16), aligned(4), may_alias));
typedef float sl_f8_near __attribute__((vector_size(32), aligned(4), may_alias));
typedef int sl_i8_near __attribute__((vector_size(32), aligned(4), may_alias));
typedef short sl_s8 __attribute__((vector_size(16)));
typedef short sl_s4 __attribute__((vector_size(8)));
typedef short sl_s8_near __attribute__((vector_size(16), aligned(2), may_alias));
typedef long long sl_l2 __attribute__((vector_size(16)));
typedef long long sl_l_near __attribute__((aligned(2), may_alias));
typedef int sl_i_near __attribute__((aligned(2), may_alias));
#define SL_ALL4(v) ((sl_i4){ (v), (v), (v), (v) })
#define SL_TO_INT4(v) __builtin_convertvector(v, sl_i4)
#define SL_TO_FLOAT4(v) __builtin_convertvector(v, sl_f4)
#define SL_TO_INT8(v) __builtin_convertvector(v, sl_i8)
#define SL_TO_FLOAT8(v) __builtin_convertvector(v, sl_f8)
#if defined(__SSE__)
#define SL_MIN4(a, b) __builtin_ia32_minps(a, b)
#define SL_MAX4(a, b) __builtin_ia32_maxps(a, b)
#else
#define SL_CHOOSE4(m, a, b) ((sl_f4)(((sl_i4)(a) & (m)) | ((sl_i4)(b) & ~(m))))
#define SL_MIN4(a, b) SL_CHOOSE4((a) < (b), a, b)
#define SL_MAX4(a, b) SL_CHOOSE4((a) > (b), a, b)
#endif
/*
 * SL_PRODUCTS8: of 8 products of 16-bit numbers, each two neighbours summed: 4 of 32 bits.
 * SL_HELD16: 4 numbers held within -32768 .. 32767, in the first 8 bytes.
 */
#if defined(__SSE2__)
#define SL_PRODUCTS8(a, b) __builtin_ia32_pmaddwd128(a, b)
#define SL_HELD16(v) ((sl_i4)__builtin_ia32_packssdw128(v, v))
#else
#define SL_EVENS4(v) __builtin_convertvector( \
    __builtin_shufflevector(v, v, 0, 2, 4, 6), sl_i4)
#define SL_ODDS4(v) __builtin_convertvector( \
    __builtin_shufflevector(v, v, 1, 3, 5, 7), sl_i4)
#define SL_PRODUCTS8(a, b) (SL_EVENS4(a) * SL_EVENS4(b) + SL_ODDS4(a) * SL_ODDS4(b))
#define SL_ABOVE4(v) ((v) > 32767 ? 32767 : (v))
#define SL_HELD16(v) ((sl_i4)__builtin_shufflevector(__builtin_convertvector( \
    SL_ABOVE4(v) < -32768 ? -32768 : SL_ABOVE4(v), sl_s4), (sl_s4){ 0 }, 0, 1, 2, 3, 4, 5, 6, 7))
#endif
#else
#define SL_VECTORS 0
#define SL_INLINE static inline
#endif

/* A function compiled for AVX2, to be called only where the processor has it. */
#if SL_VECTORS && defined(__x86_64__)
#define SL_AVX2 1
#define SL_TARGET_AVX2 __attribute__((target("avx2")))
#define SL_CPU_HAS_AVX2() (__builtin_cpu_supports("avx2") != 0)
#else
#define SL_AVX2 0
#define SL_TARGET_AVX2
#define SL_CPU_HAS_AVX2() 0
#endif

#endif
