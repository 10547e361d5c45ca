/** Options of `gantrue measure` about points that other software found in photos. */

import type { Command } from 'commander';

export interface ImagePointsOptions {
  readonly imagePoints?: string;
  readonly imageSize?: string;
  readonly focalLength?: string;
  readonly cameraTerms?: string;
  readonly knownGrid?: boolean;
}

export function addImagePointsOptions(command: Command): Command {
  return command
    .option(
      '--image-points <file>',
      'instead of photos: CSV photo,x,y,u,v,sigma of points found by other software, commanded (mm) and in the picture (px, sensor frame)',
    )
    .option('--image-size <WxH>', 'with --image-points: size of the pictures, px')
    .option(
      '--focal-length <px>',
      'with --image-points: focal length as the camera states it, px; searched for where absent',
    )
    .option(
      '--camera-terms <list>',
      'with --image-points: adjust only these terms of the camera, without beliefs about phones and the same in all photos: f,cu,cv,k1,k2,k3,p1,p2,centreU,centreV,aspect,skew',
    )
    .option(
      '--known-grid',
      'with --image-points: take the marks to lie where they were commanded; then only the camera is measured',
    );
}
