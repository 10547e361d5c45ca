import { describe, expect, it } from 'vitest';
import {
  decimalsOf,
  fixed,
  showAmount,
  showLimit,
  showValue,
} from '../../../src/report/show-number.js';

describe('a value with its uncertainty', () => {
  it('has two significant digits of U and the value to the same place', () => {
    expect(showValue('slope', 0.8523e-3, 0.0618e-3, 'mm').withU).toBe('0.852 ± 0.062 mm/m');
    expect(showValue('length', 12.3456, 1.234, 'mm').withU).toBe('12.3 ± 1.2 mm');
    expect(showValue('length', 1234.5, 234, 'mm').withU).toBe('1235 ± 234 mm');
  });

  it('keeps two digits where rounding carries', () => {
    expect(showValue('length', 1, 0.0996, 'mm').withU).toBe('1.00 ± 0.10 mm');
    expect(decimalsOf(0.0994)).toBe(3);
    expect(decimalsOf(0.0996)).toBe(2);
  });

  it('never shows a minus before zero', () => {
    expect(fixed(-0.0004, 3)).toBe('0.000');
    expect(fixed(-0.0006, 3)).toBe('−0.001');
  });

  it('is converted to inch and inch per foot', () => {
    // 25.4 mm = 1 in; 1/12 = 83.333 mm/m is 1 in per ft
    expect(showValue('length', 25.4, 0.254, 'in').withU).toBe('1.000 ± 0.010 in');
    expect(showValue('slope', 1 / 12, 0.001, 'in').withU).toBe('1.000 ± 0.012 in/ft');
    expect(showAmount(25.4, 2.54, 'mm', 'in')).toBe('1.00 ± 0.10 in');
    expect(showLimit(0.2, 'mm/m', 'in')).toBe('0.0024 in/ft');
    expect(showLimit(0.05, 'mm', 'mm')).toBe('0.05 mm');
  });
});
