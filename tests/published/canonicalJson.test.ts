import { describe, expect, it } from 'vitest'
import { canonicalJson } from '../../src/model/canonicalJson.js'

/** RFC 8785, JSON Canonicalization Scheme: sections 3.2.2, 3.2.3 and appendix B; copied from memory of the text. */
describe('canonicalJson, RFC 8785', () => {
  it('section 3.2.2: numbers, strings, literals', () => {
    const text =
      '{"numbers":[333333333.33333329,1E30,4.50,2e-3,0.000000000000000000000000001],' +
      '"string":"\\u20ac$\\u000F\\u000aA\'\\u0042\\u0022\\u005c\\\\\\"\\/","literals":[null,true,false]}'
    expect(canonicalJson(JSON.parse(text))).toBe(
      '{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],' +
        '"string":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}',
    )
  })

  it('section 3.2.3: members by UTF-16 code units, so an emoji stands before U+FB33', () => {
    const text =
      '{"\\u20ac":"Euro Sign","\\r":"Carriage Return","\\ufb33":"Hebrew Letter Dalet With Dagesh","1":"One",' +
      '"\\ud83d\\ude00":"Emoji: Grinning Face","\\u0080":"Control","\\u00f6":"Latin Small Letter O With Diaeresis"}'
    const values = Object.values(JSON.parse(canonicalJson(JSON.parse(text))) as Record<string, string>)
    // Parsing puts the integer-like key first, so the order is read from the text.
    const ordered = [...canonicalJson(JSON.parse(text)).matchAll(/:"([^"]*)"/g)].map(match => match[1])
    expect(ordered).toEqual([
      'Carriage Return',
      'One',
      'Control',
      'Latin Small Letter O With Diaeresis',
      'Euro Sign',
      'Emoji: Grinning Face',
      'Hebrew Letter Dalet With Dagesh',
    ])
    expect(values).toHaveLength(7)
  })

  it.each([
    ['0000000000000000', '0'],
    ['8000000000000000', '0'],
    ['0000000000000001', '5e-324'],
    ['7fefffffffffffff', '1.7976931348623157e+308'],
    ['4340000000000000', '9007199254740992'],
    ['4430000000000000', '295147905179352830000'],
    ['44b52d02c7e14af5', '9.999999999999997e+22'],
    ['44b52d02c7e14af6', '1e+23'],
    ['444b1ae4d6e2ef50', '1e+21'],
    ['3eb0c6f7a0b5ed8d', '0.000001'],
    ['3eb0c6f7a0b5ed8c', '9.999999999999997e-7'],
    ['41b3de4355555553', '333333333.3333332'],
    ['41b3de4355555557', '333333333.33333343'],
    ['becbf647612f3696', '-0.0000033333333333333333'],
    ['43143ff3c1cb0959', '1424953923781206.2'],
  ])('appendix B: the double %s is written %s', (hex, expected) => {
    expect(canonicalJson(Buffer.from(hex, 'hex').readDoubleBE())).toBe(expected)
  })

  it.each([NaN, Infinity, -Infinity])('has no word for %d', value => {
    expect(() => canonicalJson({ value })).toThrow(TypeError)
  })

  it('leaves undefined members out and refuses what JSON does not have', () => {
    expect(canonicalJson({ b: undefined, a: [{}, []] })).toBe('{"a":[{},[]]}')
    expect(() => canonicalJson([undefined])).toThrow(TypeError)
    expect(() => canonicalJson({ f: () => 1 })).toThrow(TypeError)
    expect(() => canonicalJson(1n)).toThrow(TypeError)
  })
})
