/** A grey picture in the sensor frame. */

export interface GreyImage {
  readonly width: number;
  readonly height: number;
  /** height × width grey values, row-major, 0 black to 255 white. */
  readonly data: Uint8Array;
}
